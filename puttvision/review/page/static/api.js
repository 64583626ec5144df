// Talking to the server: every change carries the secret of this page.

const secret = document.querySelector('meta[name="secret"]').content

export class Refused extends Error {
  constructor (status, answer) {
    super(answer.error || 'The page could not be reached: is puttvision still running?')
    this.status = status
    this.answer = answer
  }
}

async function answerOf (response) {
  let answer = {}
  const text = await response.text()
  try {
    answer = JSON.parse(text)
  } catch {
    answer = { error: text.trim().split('\n')[0] }
  }
  if (!response.ok) throw new Refused(response.status, answer)
  return answer
}

async function ask (url, options) {
  let response
  try {
    response = await fetch(url, options)
  } catch {
    throw new Refused(0, {})
  }
  return answerOf(response)
}

export const get = (url) => ask(url, { headers: { accept: 'application/json' } })

export const post = (url, data) => ask(url, {
  method: 'POST',
  headers: { 'content-type': 'application/json', 'x-puttvision': secret },
  body: JSON.stringify(data)
})

// XMLHttpRequest, because fetch says nothing of how much was sent
export function send (url, file, told) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest()
    request.open('POST', url)
    request.setRequestHeader('x-puttvision', secret)
    request.setRequestHeader('content-type', 'application/octet-stream')
    request.upload.onprogress = (event) => told(event.loaded / Math.max(1, event.total))
    request.onload = () => answerOf(new Response(request.responseText, { status: request.status })).then(resolve, reject)
    request.onerror = () => reject(new Refused(0, { error: 'The clip was not taken: the connection broke off, or the clip is too large.' }))
    request.send(file)
  })
}

export function say (text) {
  const told = document.getElementById('told')
  told.textContent = ''
  setTimeout(() => { told.textContent = text }, 30)
}

export function make (tag, facts = {}, ...children) {
  const element = document.createElement(tag)
  for (const [key, value] of Object.entries(facts)) {
    if (key === 'class') element.className = value
    else if (key.startsWith('on')) element.addEventListener(key.slice(2), value)
    else if (value !== false && value !== null) element.setAttribute(key, value === true ? '' : value)
  }
  element.append(...children)
  return element
}
