// The fields that say whose putts a clip holds.

const field = (id) => document.getElementById(id)

export function ready () {
  const row = field('consent-row')
  const ask = new Set([...JSON.parse(row.dataset.ask), 'guest'])
  const show = () => { row.hidden = !ask.has(field('player').value) }
  field('player').addEventListener('change', show)
  show()
  if (!field('day').value) {
    const now = new Date()
    field('day').value = new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10)
  }
}

export const whose = () => ({
  player: field('player').value,
  day: field('day').value,
  drill: field('drill').value,
  consent: field('consent').checked || field('consent-row').hidden
})
