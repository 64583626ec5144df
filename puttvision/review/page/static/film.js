// The film and what is drawn over it, in step with the frame shown.

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim()

const SEEN_TOGETHER_S = 0.06 // two sightings no farther apart are of a ball that was followed throughout

export class Film {
  constructor (video, canvas) {
    this.video = video
    this.canvas = canvas
    this.facts = { rate_hz: 30, time_scale: 1 }
    this.overlay = null
    this.number = null
    this.shown = 0 // time of the frame shown, in seconds of the file
    this.lines = true
    this.onframe = () => {}
    this._watch()
    new ResizeObserver(() => this.draw()).observe(video)
    video.addEventListener('seeked', () => this._sought())
    video.addEventListener('loadeddata', () => this.draw())
  }

  load (facts, overlay) {
    this.facts = facts
    this.overlay = overlay
    this.video.parentElement.style.setProperty('--aspect', facts.width / facts.height)
    this.draw()
  }

  // real seconds of the frame shown
  get now () { return this.shown * this.facts.time_scale }

  _watch () {
    this._calls = 'requestVideoFrameCallback' in HTMLVideoElement.prototype
    if (this._calls) {
      const step = (_, frame) => {
        this._frame(frame.mediaTime)
        this.video.requestVideoFrameCallback(step)
      }
      this.video.requestVideoFrameCallback(step)
    } else {
      this.video.addEventListener('timeupdate', () => this._frame(this.video.currentTime))
    }
  }

  // a browser that is busy may tell of no new frame after a jump: then what was sought is what is shown
  _sought () {
    const { video } = this
    if (!this._calls) return this._frame(video.currentTime)
    clearTimeout(this._untold)
    this._untold = setTimeout(() => {
      const far = Math.abs(video.currentTime - this.shown) > (this._jumped ? 1.2 : 2.5) / this._rate
      if (far && video.paused && !video.seeking) this._frame(Math.max(0, video.currentTime - 0.5 / this._rate))
    }, 400)
  }

  _frame (time) {
    this.shown = time
    this.draw()
    this.onframe(this.now)
  }

  // a frame is shown from its time until that of the next: aim at its middle
  seek (realSeconds) {
    clearTimeout(this._again)
    this._jumped = true
    const wanted = realSeconds / this.facts.time_scale + 0.5 / this._rate
    this.video.currentTime = Math.max(0, Math.min(wanted, (this.video.duration || wanted) - 0.001))
  }

  get _rate () { return this.facts.rate_hz * this.facts.time_scale }

  step (way) {
    this.video.pause()
    this._jumped = false // a step may rightly show no new frame, where frames were dropped
    clearTimeout(this._again)
    const from = this.shown
    const target = way > 0 ? from + 1.5 / this._rate : from - 0.5 / this._rate
    this.video.currentTime = Math.max(0, target)
    if (way < 0) return
    // where frames were dropped, the next one comes later: nothing new is shown, so look further on
    this._again = setTimeout(() => {
      if (this.shown === from && !this.video.seeking) this.video.currentTime = Math.min(this.video.duration, from + 2.5 / this._rate)
    }, 500)
  }

  putt () {
    return this.overlay && this.overlay.putts.find((putt) => putt.number === this.number)
  }

  // the ball of this putt in the frame shown: [x, y, radius] in pixels of the drawing, or null
  ball (putt = this.putt()) {
    if (!putt) return null
    const near = 0.5 / this.facts.rate_hz
    const row = putt.seen.find(([time]) => Math.abs(time - this.now) < near)
    if (row) return row.slice(1)
    // far from gate and hole not every frame is measured: between two that were, the ball rolls evenly
    const next = putt.seen.findIndex(([time]) => time > this.now)
    if (next < 1) return null
    const [before, after] = [putt.seen[next - 1], putt.seen[next]]
    if (after[0] - before[0] > SEEN_TOGETHER_S) return null
    const share = (this.now - before[0]) / (after[0] - before[0])
    return [1, 2, 3].map((i) => before[i] + share * (after[i] - before[i]))
  }

  // brings a place in the drawing to the frame shown, where the camera moved
  _place () {
    const rows = this.overlay.moved || []
    let row = null
    for (const one of rows) {
      if (one[0] > this.now + 0.5 / this.facts.rate_hz) break
      row = one
    }
    if (!row) return (at) => at
    const [, a, b, c, d, e, f, g, h, i] = row
    return ([x, y, ...more]) => {
      const w = g * x + h * y + i
      return [(a * x + b * y + c) / w, (d * x + e * y + f) / w, ...more]
    }
  }

  draw () {
    const { video, canvas, overlay } = this
    const [wide, high] = [video.clientWidth, video.clientHeight]
    const dense = Math.min(window.devicePixelRatio || 1, 3)
    if (canvas.width !== Math.round(wide * dense) || canvas.height !== Math.round(high * dense)) {
      canvas.width = Math.round(wide * dense)
      canvas.height = Math.round(high * dense)
    }
    const pen = canvas.getContext('2d')
    pen.setTransform(1, 0, 0, 1, 0, 0)
    pen.clearRect(0, 0, canvas.width, canvas.height)
    if (!overlay || !this.lines || !wide) return
    // pixels are counted from the middle of the first one
    const scale = canvas.width / overlay.width
    pen.setTransform(scale, 0, 0, canvas.height / overlay.height, 0.5 * scale, 0.5 * scale)
    const thick = (px) => px * dense / scale
    const line = (points, width, colour, dash = []) => {
      if (!points.length) return
      pen.beginPath()
      points.forEach(([x, y], i) => i ? pen.lineTo(x, y) : pen.moveTo(x, y))
      pen.lineCap = pen.lineJoin = 'round'
      for (const [extra, ink] of [[2, 'rgba(13,18,16,.55)'], [0, colour]]) {
        pen.setLineDash(dash.map(thick))
        pen.lineWidth = thick(width + extra)
        pen.strokeStyle = ink
        pen.stroke()
      }
      pen.setLineDash([])
    }
    const white = '#ffffff'
    const place = this._place()
    line([...overlay.hole, overlay.hole[0]].map(place), 1.5, white)
    overlay.posts.forEach((post) => line(post.map(place), 2, css('--speed-4') || white))
    const putt = this.putt()
    if (!putt) return
    line(putt.line.map(place), 1, white, [6, 6])
    const seen = this.ball(putt)
    const ball = seen && place(seen)
    const past = putt.seen.filter(([time]) => time <= this.now + 0.5 / this.facts.rate_hz).map(([, x, y]) => place([x, y]))
    if (past.length && (ball || this.now > putt.start_s)) {
      // the trail ends before the ball: the ball itself is never covered
      const clear = ball ? past.filter(([x, y]) => Math.hypot(x - ball[0], y - ball[1]) > ball[2] + thick(4)) : past
      line(clear, 2, css('--speed-3') || white)
    }
    if (ball) {
      const circle = []
      const radius = ball[2] + thick(4)
      for (let i = 0; i <= 48; i++) circle.push([ball[0] + radius * Math.cos(i * Math.PI / 24), ball[1] + radius * Math.sin(i * Math.PI / 24)])
      line(circle, 1.5, css('--speed-4') || white)
    }
  }
}
