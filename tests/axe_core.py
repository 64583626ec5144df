"""What axe-core has against a page, as far as it is serious."""


def serious_faults(axe, page):
    """(rule, elements) of every serious or critical fault."""
    found = axe.run(page).response["violations"]
    return [
        (one["id"], [node["html"][:120] for node in one["nodes"]])
        for one in found
        if one["impact"] in ("serious", "critical")
    ]
