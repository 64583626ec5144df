"""The score card on the green: keys to putts, kept on disk key by key, shown on a full-screen page."""
