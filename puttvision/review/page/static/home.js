// Dropping a clip in.

import { say, send } from './api.js'
import { ready, whose } from './whose.js'

const form = document.getElementById('drop')
const fault = document.getElementById('fault')
const sending = document.getElementById('sending')
let busy = false

ready()
form.addEventListener('submit', (event) => event.preventDefault())
document.getElementById('file').addEventListener('change', (event) => take(event.target.files[0]))

for (const name of ['dragenter', 'dragover']) {
  document.addEventListener(name, (event) => {
    event.preventDefault()
    form.classList.add('over')
  })
}
document.addEventListener('dragleave', (event) => {
  if (!event.relatedTarget) form.classList.remove('over')
})
document.addEventListener('drop', (event) => {
  event.preventDefault()
  form.classList.remove('over')
  take(event.dataTransfer.files[0])
})

async function take (file) {
  if (!file || busy) return
  fault.textContent = ''
  if (!/\.(mp4|mov|m4v)$/i.test(file.name)) return refuse('This is no clip from a phone: .mp4 or .mov was due.')
  if (file.size > Number(form.dataset.largest)) return refuse('The clip is too large: cut it into parts.')
  const facts = whose()
  if (!facts.consent) {
    refuse('Say first that everyone in the picture agreed to being filmed, then choose the clip again.')
    return document.getElementById('consent').focus()
  }
  busy = true
  sending.hidden = false
  say(`Sending ${file.name}`)
  try {
    const lens = document.getElementById('lens')?.value || ''
    const words = new URLSearchParams({ ...facts, name: file.name, lens })
    const answer = await send(`/clips?${words}`, file, (share) => { document.getElementById('sent').value = share })
    location.assign(`/clips/${answer.clip}`)
  } catch (error) {
    refuse(error.message)
  } finally {
    busy = false
    sending.hidden = true
  }
}

function refuse (text) {
  fault.textContent = text
  document.getElementById('file').value = ''
}
