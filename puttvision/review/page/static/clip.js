// A clip on its way to a session: progress, marks by hand, whose putts.

import { get, make, post } from './api.js'
import { ready, whose } from './whose.js'

const root = document.getElementById('clip')
const id = root.dataset.id
const byId = (name) => document.getElementById(name)
const fault = byId('fault')

// --- progress ----------------------------------------------------------------------------------

async function watch () {
  let state
  try {
    state = await get(`/clips/${id}/state`)
  } catch (error) {
    fault.textContent = error.message
    return setTimeout(watch, 3000)
  }
  const job = state.job
  byId('work').hidden = !job || !['waiting', 'running'].includes(job.state)
  if (job && job.state === 'running' && job.total_s) {
    byId('done').value = job.done_s / job.total_s
    byId('done-words').textContent = `${Math.round(job.done_s)} of ${Math.round(job.total_s)} s of clip`
  } else if (job && job.state === 'running') {
    byId('done-words').textContent = 'Sheets, hole and gate are being looked for.'
  }
  if (!byId('work').hidden) return setTimeout(watch, 400)
  if (job && job.state === 'done') {
    if (state.session) location.assign(`/sessions/${state.session}`)
    else location.reload()
  } else if (job && job.state === 'failed') {
    fault.textContent = job.error
  }
}

function begin () {
  fault.textContent = ''
  byId('done').removeAttribute('value')
  byId('done-words').textContent = 'It waits for its turn.'
  byId('work').hidden = false
  byId('work').scrollIntoView({ block: 'nearest' })
  watch()
}

if (!byId('work').hidden) watch()
byId('stop').addEventListener('click', () => post(`/clips/${id}/stop`, {}))

if (byId('keep')) {
  ready()
  byId('keep').addEventListener('submit', async (event) => {
    event.preventDefault()
    try {
      const answer = await post(`/clips/${id}/keep`, whose())
      location.assign(`/sessions/${answer.session}`)
    } catch (error) {
      fault.textContent = error.message
    }
  })
}

// --- marks -------------------------------------------------------------------------------------

const marks = new Map() // 'hole', 'gate0', 'gate1' or '3:0' (sheet and corner) to [x, y]
const words = { hole: 'hole', gate0: 'left post', gate1: 'right post' }
const corners = ['top left', 'top right', 'bottom right', 'bottom left']
const order = ['hole', 'gate0', 'gate1', 'sheet0', 'sheet1', 'sheet2', 'sheet3']
let last = null

// what was placed before stays, so that only what is wrong is placed again
function placedBefore () {
  const before = JSON.parse(root.dataset.marks || '{}')
  if (before.hole) marks.set('hole', before.hole)
  for (const [i, at] of (before.gate || []).entries()) marks.set(`gate${i}`, at)
  for (const [sheet, four] of Object.entries(before.sheets || {})) four.forEach((at, i) => marks.set(`${sheet}:${i}`, at))
  byId('no-gate').checked = Boolean(before.no_gate)
  if (before.capture_rate_hz) byId('rate').value = String(before.capture_rate_hz)
  draw()
}

const chosen = () => document.querySelector('input[name="mark"]:checked').value
const keyOf = (mark) => mark.startsWith('sheet') ? `${byId('sheet').value}:${mark[5]}` : mark
const nameOf = (key) => words[key] || `sheet ${key[0]}, ${corners[key[2]]}`

function put (key, at) {
  const still = byId('still')
  const inside = (value, size) => Math.round(Math.min(Math.max(value, 0), size - 1) * 10) / 10
  marks.set(key, [inside(at[0], still.naturalWidth), inside(at[1], still.naturalHeight)])
  last = key
  draw()
}

function draw () {
  const still = byId('still')
  const svg = byId('marks')
  svg.setAttribute('viewBox', `0 0 ${still.naturalWidth} ${still.naturalHeight}`)
  svg.replaceChildren()
  const size = still.naturalWidth / Math.max(1, still.clientWidth)
  for (const [key, [x, y]] of marks) {
    for (const look of ['under', 'upper']) {
      const path = document.createElementNS('http://www.w3.org/2000/svg', 'path')
      // pixels are counted from the middle of the first one
      const [cx, cy, r] = [x + 0.5, y + 0.5, 9 * size]
      path.setAttribute('d', `M${cx - r} ${cy}h${r * 0.7}M${cx + r} ${cy}h${-r * 0.7}M${cx} ${cy - r}v${r * 0.7}M${cx} ${cy + r}v${-r * 0.7}`)
      path.setAttribute('class', `${look}${key === last ? ' last' : ''}`)
      svg.append(path)
    }
  }
  byId('placed').textContent = marks.size
    ? [...marks].map(([key, [x, y]]) => `${nameOf(key)} at ${x}, ${y}`).join('; ')
    : 'Nothing is placed.'
}

function zoomed () {
  const still = byId('still')
  const times = Number(byId('zoom').value)
  byId('place').style.setProperty('--wide', times ? `${still.naturalWidth * times}px` : '100%')
  draw()
}

function placing () {
  const place = byId('place')
  place.addEventListener('click', (event) => {
    const still = byId('still')
    const box = still.getBoundingClientRect()
    const scale = still.naturalWidth / box.width
    put(keyOf(chosen()), [(event.clientX - box.left) * scale - 0.5, (event.clientY - box.top) * scale - 0.5])
    next()
    place.focus({ preventScroll: true })
  })
  const nudge = (way, far) => {
    if (!last) return
    const at = marks.get(last)
    put(last, [at[0] + way[0] * far, at[1] + way[1] * far])
  }
  for (const button of document.querySelectorAll('#nudge button')) {
    button.addEventListener('click', () => nudge(button.dataset.way.split(',').map(Number), 1))
  }
  place.addEventListener('keydown', (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key]
    const still = byId('still')
    if (event.key === 'Enter') { // without a mouse: a mark begins in the middle
      put(keyOf(chosen()), [still.naturalWidth / 2, still.naturalHeight / 2])
    } else if (way && last) {
      nudge(way, event.shiftKey ? 10 : 1)
    } else {
      return
    }
    event.preventDefault()
  })
  byId('zoom').addEventListener('change', zoomed)
  addEventListener('resize', draw)
  byId('still').addEventListener('load', draw)
  byId('clear').addEventListener('click', () => { marks.clear(); last = null; draw() })
  byId('measure').addEventListener('click', () => measure(false))
  byId('sure').querySelector('button').addEventListener('click', () => measure(true))
}

// after a post comes the other one, after a corner the next
function next () {
  const at = order.indexOf(chosen())
  if (at > 0 && at !== 2 && at < 6) document.querySelector(`input[value="${order[at + 1]}"]`).checked = true
}

function gathered () {
  const found = {}
  if (marks.has('hole')) found.hole = marks.get('hole')
  if (marks.has('gate0') || marks.has('gate1')) {
    if (!marks.has('gate0') || !marks.has('gate1')) throw new Error('A gate has two posts: place the other one, too.')
    found.gate = [marks.get('gate0'), marks.get('gate1')]
  }
  if (byId('no-gate').checked) found.no_gate = true
  for (const sheet of new Set([...marks.keys()].filter((key) => key.includes(':')).map((key) => key[0]))) {
    const four = [0, 1, 2, 3].map((corner) => marks.get(`${sheet}:${corner}`))
    if (four.includes(undefined)) throw new Error(`Sheet ${sheet} has four corners: place them all.`)
    found.sheets = { ...found.sheets, [sheet]: four }
  }
  if (byId('lens')?.value) found.lens = byId('lens').value
  if (byId('rate').value.trim()) found.capture_rate_hz = Number(byId('rate').value.replace(',', '.')) || -1
  return found
}

async function measure (sure) {
  fault.textContent = ''
  byId('sure').hidden = true
  try {
    await post(`/clips/${id}/measure`, { marks: gathered(), drop_corrections: sure })
    begin()
  } catch (error) {
    if (error.status === 409) {
      byId('sure').querySelector('p').textContent = `${error.message}.`
      byId('sure').hidden = false
    } else {
      fault.textContent = error.message
      fault.scrollIntoView({ block: 'nearest' })
    }
  }
}

if (byId('place')) {
  placing()
  placedBefore()
}
