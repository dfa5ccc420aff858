'use strict'
// The plan as it was made, and what every other script asks of it.

const plan = JSON.parse(document.getElementById('plan-data').textContent)
const SYSTEMS = [...new Set(plan.needs.map(need => need.system))]

function needOf(piece) { return plan.needs[piece.need] }

// Returns a length as the project writes it; nesting/written_measures.py says how (format_length).
function lengthText(mm) {
  const { name, mm: each } = plan.unit
  if (name === 'm') return `${fixed(mm / 1000, 3)} m`
  if (name === 'cm') return `${fixed(mm / 10, 1)} cm`
  if (name === 'mm') return `${fixed(mm, Math.abs(mm) >= 100 || Math.abs(mm - Math.round(mm)) < 1e-6 ? 0 : 1).replace(/\.0$/, '')} mm`
  return inchesText(mm, each > 25.4)
}

function fixed(number, digits) { return (Number(number.toFixed(digits)) + 0).toFixed(digits) }

function inchesText(mm, areFeet) {
  const steps = Math.round(Math.abs(mm) / 25.4 * 16)
  const whole = Math.floor(steps / 16)
  let rest = steps % 16, parts = 16
  while (rest && rest % 2 === 0) { rest /= 2; parts /= 2 }
  const feet = areFeet && whole >= 24 ? Math.floor(whole / 12) : 0
  const inches = whole - 12 * feet
  const small = [inches || !rest ? `${inches}` : '', rest ? `${rest}/${parts}` : '']
    .filter(Boolean).join(' ')
  const sign = mm < 0 && steps ? '-' : ''
  if (!feet) return `${sign}${small} in`
  return `${sign}${feet} ft${inches || rest ? ` ${small} in` : ''}`
}

// Returns a new element; what is not an element among its content is text, whatever is in it.
function made(name, attributes = {}, ...content) {
  const element = document.createElement(name)
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value)
  element.append(...content)
  return element
}

function nameText(text) { return made('bdi', {}, text) }

function tableOf(columns, rows) {
  const head = made('tr', {}, ...columns.map(column => made('th', { scope: 'col' }, column)))
  const body = rows.map(row => made('tr', {}, ...row.map(cell => made('td', {}, cell))))
  return made('table', {}, made('thead', {}, head), made('tbody', {}, ...body))
}

function factsOf(rows) {
  return made('dl', {}, ...rows.flatMap(([word, fact]) => [
    made('dt', {}, word), made('dd', {}, fact),
  ]))
}

function className(word) { return word.replaceAll(' ', '-') }
