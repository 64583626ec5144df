// One session: putts, calls, score. The server has the last word on every change.

import { get, make, post, say } from './api.js'
import { Film } from './film.js'

const root = document.getElementById('session')
const id = root.dataset.id
const byId = (name) => document.getElementById(name)
const glyphs = { holed: '●', missed: '✕', unseen: '◇', clear: '●', touched: '▲', outside: '✕', none: '–' }
let state = null
let number = null
let film = null
let slow = false
let pending = null // a change that met one of somebody else's

const putts = () => state.putts.filter((putt) => putt.is_putt)
const putt = () => state.putts.find((one) => one.number === number)

// --- changes -----------------------------------------------------------------------------------

async function change (order) {
  hideConflict()
  try {
    const answer = await post(`/sessions/${id}/change`, { version: state.version, ...order })
    take(answer.state)
    const news = state.changed.join('. ')
    say(`${spoken(order)}. ${news}`)
  } catch (error) {
    if (error.status === 409) return conflict(error, order)
    showFault(error.message)
  }
}

function spoken (order) {
  if (order.do === 'undo') return 'Undone'
  if (order.do === 'add') return 'A putt was put in'
  return `Putt ${order.putt} is corrected`
}

function conflict (error, order) {
  take(error.answer.state)
  pending = order
  const box = byId('conflict')
  box.replaceChildren(
    make('p', {}, `${error.message[0].toUpperCase()}${error.message.slice(1)}. Yours was not made: ${describe(order)}.`),
    make('div', { class: 'line' },
      make('button', { type: 'button', onclick: () => change(pending) }, 'Make my change all the same'),
      make('button', { type: 'button', onclick: hideConflict }, 'Leave it'))
  )
  box.hidden = false
  box.querySelector('button').focus()
}

function describe (order) {
  if (order.do === 'undo') return 'undo'
  if (order.do === 'add') return 'a putt that was missed'
  return `putt ${order.putt}, ${order.field.replace('_', ' ')}: ${order.value}`
}

function showFault (text) {
  byId('conflict').replaceChildren(make('p', {}, text), make('button', { type: 'button', onclick: hideConflict }, 'Close'))
  byId('conflict').hidden = false
}

function hideConflict () {
  pending = null
  byId('conflict').hidden = true
}

function correct (field, value) {
  // what stands already is agreed to
  if (putt()[field] === value) {
    if (putt().why.length) return change({ do: 'correct', putt: number, field: 'looked_at', value: true })
    return say('It stands so already')
  }
  return change({ do: 'correct', putt: number, field, value })
}

// --- what is shown -----------------------------------------------------------------------------

function take (fresh) {
  state = fresh
  if (!putt()) number = state.to_look_at[0] ?? putts()[0]?.number ?? null
  showPutt()
  showScore()
  showMissed()
  showList()
  showEvents()
  if (film) {
    film.number = number
    film.draw()
  }
}

function choose (which, play = true) {
  number = which
  showPutt()
  showList()
  if (film && putt()) {
    film.number = number
    film.video.pause()
    if (play && putt().start_s !== null) film.seek(Math.max(0, putt().start_s))
    film.draw()
  }
}

function showPutt () {
  const one = putt()
  byId('putt-title').textContent = one ? `Putt ${one.number}` : 'No putt was seen'
  byId('calls').disabled = false
  const box = byId('putt')
  if (!one) {
    box.replaceChildren(make('p', {}, 'Nothing rolled towards the hole in this clip, as far as the tool can tell. Step to a putt and press P to put it in.'))
    return
  }
  const call = make('p', { class: `call ${one.outcome}` }, `${glyphs[one.outcome]} ${one.outcome_words}`)
  if (state.has_gate || one.gate_result !== 'none') call.append(make('span', { class: `gate ${one.gate_result}` }, ` · gate: ${one.gate_words}`))
  const parts = [call]
  if (!one.is_putt) parts.push(make('p', { class: 'why' }, 'Said to be no putt: it does not count.'))
  if (one.why.length) parts.push(make('ul', { class: 'why', 'aria-label': 'Why a person should look' }, ...one.why.map((why) => make('li', {}, why))))
  if (one.changed.length) parts.push(make('p', { class: 'soft' }, `Corrected by hand: ${one.changed.join(', ')}`))
  if (one.why_missed) parts.push(make('p', {}, `Missed by ${one.why_missed}`))
  const figures = make('dl', {})
  for (const [label, words] of one.figures) figures.append(make('div', {}, make('dt', {}, label), make('dd', {}, words)))
  parts.push(figures)
  box.replaceChildren(...parts)
  for (const button of document.querySelectorAll('[data-field]')) {
    button.setAttribute('aria-pressed', String(one[button.dataset.field] === button.dataset.value))
  }
  byId('not-a-putt').querySelector('span').textContent = one.is_putt ? 'Not a putt' : 'A putt after all'
  byId('agree').disabled = !one.why.length
  byId('undo').disabled = !state.events.some((event) => event.can_undo)
  byId('next-look').disabled = !state.to_look_at.length
  showNotes()
}

function showNotes () {
  byId('notes').replaceChildren(...state.notes.filter((note) => note.putt === number).map((note) => make('li', {},
    note.text, make('span', { class: 'soft' }, ` ${note.who} `),
    make('button', { type: 'button', class: 'small', 'aria-label': `Take the note away: ${note.text}`, onclick: () => noting({ remove: note.id }) }, 'Take away'))))
}

function showScore () {
  const news = byId('changed')
  news.replaceChildren(...state.changed.map((text) => make('p', { class: 'news' }, text)))
  byId('cards').replaceChildren(...state.cards.map((card) => {
    const box = make('article', {}, make('h3', {}, card.title), make('p', { class: 'figure' }, card.figure),
      make('p', {}, `${card.counted}. ${card.next}`))
    if (card.set_aside.length) box.append(make('p', { class: 'why' }, `Set aside: ${card.set_aside.map((one) => `putt ${one.putt} (${one.why})`).join('; ')}`))
    return box
  }))
  if (!state.cards.length) byId('cards').replaceChildren(make('p', { class: 'soft' }, 'No drill is scored from these putts yet.'))
}

function showMissed () {
  const lines = state.missed.length ? state.missed : ['No putt was seen.']
  byId('missed').replaceChildren(...lines.map((line) => make('p', {}, line)))
}

// a command stands between backquotes
function inCode (line) {
  return line.split('`').map((part, i) => i % 2 ? make('code', {}, part) : part)
}

function showNext () {
  const show = (lines) => byId('next').replaceChildren(...lines.map((line) => make('li', {}, ...inCode(line))))
  get(`/sessions/${id}/practise`).then((answer) => show(answer.lines), (error) => show([error.message]))
}

function row (one) {
  const card = state.cards[0]
  const words = [make('b', {}, String(one.number)), ' ', one.clock, ' ',
    make('span', { class: `mark ${one.outcome}` }, `${glyphs[one.outcome]} ${one.outcome_words}`)]
  if (state.has_gate) words.push(' ', make('span', { class: `mark ${one.gate_result}` }, `${glyphs[one.gate_result]} ${one.gate_words}`))
  if (one.added) words.push(make('span', { class: 'soft' }, ' put in by hand'))
  else if (one.changed.length) words.push(make('span', { class: 'soft' }, ' corrected'))
  if (card && card.lines[one.number]) words.push(make('span', { class: 'line-words' }, card.lines[one.number]))
  return make('li', { class: one.is_putt ? '' : 'away' }, make('button', {
    type: 'button', 'data-putt': one.number, 'aria-current': one.number === number ? 'true' : false, onclick: () => choose(one.number)
  }, ...words))
}

function showList () {
  const first = state.putts.filter((one) => one.why.length)
  const groups = [['Look at these first', first], ['Others', putts().filter((one) => !one.why.length)],
    ['Said to be no putts', state.putts.filter((one) => !one.is_putt)]]
  const focused = document.activeElement?.dataset?.putt
  byId('list').replaceChildren(...groups.filter(([, ones]) => ones.length).flatMap(([title, ones]) => [
    make('h3', {}, title), make('ol', { class: 'plain putts' }, ...ones.map(row))]))
  if (focused && byId('list').querySelector(`[data-putt="${focused}"]`)) byId('list').querySelector(`[data-putt="${focused}"]`).focus({ preventScroll: true })
  showTimeline()
}

function showTimeline () {
  const line = byId('timeline')
  if (!line || !film) return
  const long = (film.video.duration || 0) * film.facts.time_scale
  const shown = putts().filter((one) => one.start_s !== null && long)
  const strip = make('div', { class: 'strip' }, ...shown.map((one) => {
    const button = make('button', {
      type: 'button', class: `${one.outcome}${one.why.length ? ' look' : ''}`, 'aria-current': one.number === number ? 'true' : false,
      'aria-label': `Putt ${one.number}, at ${one.clock}, ${one.outcome_words}${one.why.length ? ', to look at' : ''}`, onclick: () => choose(one.number)
    }, String(one.number))
    button.style.setProperty('--at', `${100 * one.start_s / long}%`)
    return button
  }), make('span', { id: 'needle' }))
  strip.style.setProperty('--long', `${stripRem(shown.map((one) => one.start_s / long))}rem`)
  line.replaceChildren(strip)
  const current = strip.querySelector('[aria-current="true"]')
  if (current) line.scrollLeft = current.offsetLeft - line.clientWidth / 2
  needle()
}

// so long that a finger meets one putt at a time; two that nearly coincide do not stretch it without end
function stripRem (shares) {
  const sorted = [...shares].sort((a, b) => a - b)
  const gaps = sorted.slice(1).map((share, i) => share - sorted[i]).filter((gap) => gap > 0)
  return gaps.length ? Math.min(3 / Math.min(...gaps), 6 * sorted.length) : 0
}

function needle () {
  const mark = byId('needle')
  if (mark && film.video.duration) mark.style.setProperty('--at', `${100 * film.shown / film.video.duration}%`)
}

function showEvents () {
  byId('events').replaceChildren(...state.events.map((event) => {
    const item = make('li', {}, `Putt ${event.putt}: ${event.what}`, make('span', { class: 'soft' }, ` ${event.who}, ${event.at.slice(0, 16).replace('T', ' ')} ${event.why}`))
    if (event.can_undo) item.append(' ', make('button', { type: 'button', class: 'small', 'aria-label': `Undo: putt ${event.putt}, ${event.what}`, onclick: () => change({ do: 'undo', event: event.version }) }, 'Undo'))
    return item
  }))
}

// --- film --------------------------------------------------------------------------------------

function startFilm () {
  const video = byId('video')
  film = new Film(video, byId('over'))
  window.film = film // for tests, which read pixels
  video.addEventListener('loadedmetadata', () => { if (state) showTimeline() })
  video.addEventListener('error', cannotPlay)
  if (video.error) cannotPlay() // it was faster than this script
  for (const name of ['play', 'pause', 'ended']) {
    video.addEventListener(name, () => {
      byId('play').textContent = video.paused ? 'Play' : 'Pause'
      byId('play').setAttribute('aria-pressed', String(!video.paused))
    })
  }
  film.onframe = (now) => {
    byId('clock').textContent = `${Math.floor(now / 60)}:${(now % 60).toFixed(2).padStart(5, '0')}`
    needle()
  }
  get(`/sessions/${id}/drawing`).then((answer) => {
    film.load(answer.clip, answer.overlay)
    if (state) {
      choose(number)
      showTimeline()
    }
    // some browsers play the sound of a clip whose pictures they cannot read, and say no error
    if (video.readyState >= 2 && !video.videoWidth) cannotPlay()
  }, (error) => showFault(error.message))
}

function cannotPlay () {
  if (!byId('video').src.endsWith('/preview')) byId('no-play').hidden = false
}

async function makePreview (poll = false) {
  const bar = byId('preview-done')
  byId('make-preview').disabled = true
  bar.hidden = false
  try {
    const job = await post(`/sessions/${id}/preview`, { poll })
    if (job.total_s) bar.value = job.done_s / job.total_s
    if (job.state === 'failed') throw new Error(job.error)
    if (job.state !== 'done') return setTimeout(makePreview, 500, true)
    byId('video').src = `/sessions/${id}/preview`
    byId('no-play').hidden = true
    byId('video').addEventListener('loadeddata', () => { choose(number); showTimeline() }, { once: true })
  } catch (error) {
    byId('make-preview').disabled = false
    showFault(error.message)
  }
}

function setSlow () {
  slow = !slow
  film.video.playbackRate = slow ? 0.25 : 1
  byId('slow').setAttribute('aria-pressed', String(slow))
  say(slow ? 'Quarter speed' : 'Full speed')
}

function setLines () {
  film.lines = !film.lines
  byId('lines').setAttribute('aria-pressed', String(film.lines))
  film.draw()
}

function move (way) {
  const all = putts()
  const at = all.findIndex((one) => one.number === number)
  const next = all[Math.min(Math.max(at + way, 0), all.length - 1)]
  if (next) {
    choose(next.number)
    say(`Putt ${next.number}, ${next.outcome_words}`)
  }
}

function nextLook () {
  const waiting = state.to_look_at
  if (!waiting.length) return
  choose(waiting[(waiting.indexOf(number) + 1) % waiting.length])
  say(`Putt ${number}: ${putt().why.join(', ')}`)
}

async function noting (order) {
  try {
    take((await post(`/sessions/${id}/note`, order)).state)
  } catch (error) {
    showFault(error.message)
  }
}

// --- wiring ------------------------------------------------------------------------------------

const press = {
  'prev-putt': () => move(-1), 'next-putt': () => move(1), 'prev-frame': () => film.step(-1), 'next-frame': () => film.step(1),
  play: () => film.video.paused ? film.video.play() : film.video.pause(), slow: setSlow, lines: setLines,
  agree: () => correct('looked_at', true), 'not-a-putt': () => correct('is_putt', !putt().is_putt),
  'wrong-start': () => film ? correct('start', film.now) : null,
  'add-putt': () => change({ do: 'add', start_s: film ? film.now : 0 }),
  undo: () => change({ do: 'undo' }), 'next-look': nextLook, 'make-preview': () => makePreview()
}
for (const [name, does] of Object.entries(press)) byId(name)?.addEventListener('click', () => state && does())
for (const button of document.querySelectorAll('[data-field]')) {
  button.addEventListener('click', () => number !== null && correct(button.dataset.field, button.dataset.value))
}

const keys = {
  ArrowLeft: 'prev-frame', ArrowRight: 'next-frame', ArrowUp: 'prev-putt', ArrowDown: 'next-putt', ' ': 'play', w: 'slow', v: 'lines',
  a: 'agree', x: 'not-a-putt', s: 'wrong-start', p: 'add-putt', z: 'undo', l: 'next-look', n: 'note'
}
for (const button of document.querySelectorAll('[data-field]')) keys[button.getAttribute('aria-keyshortcuts')] = button

document.addEventListener('keydown', (event) => {
  const field = event.target.closest('input:not([type="checkbox"]), select, textarea')
  if (!byId('keys-on').checked || field || event.ctrlKey || event.metaKey || event.altKey) return
  if (event.key === ' ' && event.target.closest('button, a, input')) return
  const found = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key]
  const target = typeof found === 'string' ? byId(found) : found
  if (!target) return
  event.preventDefault()
  if (target.id === 'note') target.focus()
  else target.click()
})
byId('note').addEventListener('keydown', (event) => { if (event.key === 'Escape') event.target.blur() })
byId('note-form').addEventListener('submit', async (event) => {
  event.preventDefault()
  const text = byId('note').value.trim()
  if (!text) return
  await noting({ putt: number, text })
  byId('note').value = ''
  say('The note is kept')
})
byId('drill-form').addEventListener('submit', async (event) => {
  event.preventDefault()
  try {
    const answer = await post(`/sessions/${id}/drill`, { drill: byId('drill').value, putts: byId('drill-putts').value.trim() })
    take(answer.state)
    say(answer.new ? 'The drill is scored' : 'This drill was scored already')
  } catch (error) {
    showFault(error.message)
  }
})

if (root.dataset.film) startFilm()
// on a phone the film stays in view: what gets the focus must not come to lie under it
const watch = document.querySelector('.watch')
new ResizeObserver(() => document.documentElement.style.setProperty('--covered', `${watch.offsetHeight}px`)).observe(watch)
get(`/sessions/${id}/state`).then((fresh) => {
  number = fresh.to_look_at[0] ?? null
  take(fresh)
  if (film?.overlay) choose(number)
  showNext()
}, (error) => showFault(error.message))
