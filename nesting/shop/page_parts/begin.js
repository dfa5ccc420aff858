'use strict'
// What is set going when the page is opened.

const LOOK = 'salvage-nest look'
const darkDevice = window.matchMedia('(prefers-color-scheme: dark)')

// Storage may be closed to a page that is opened as a file.
function kept(value) {
  try {
    if (value !== undefined) localStorage.setItem(LOOK, value)
    return localStorage.getItem(LOOK) || ''
  } catch { return value || '' }
}

function light() {
  const look = $('look').value
  document.documentElement.classList.toggle('dark', look === 'dark' || (!look && darkDevice.matches))
  if (typeof siftBoat === 'function') siftBoat()
}

$('look').value = kept()
$('look').addEventListener('change', () => { kept($('look').value); light() })
darkDevice.addEventListener('change', light)
$('sift').addEventListener('input', sift)
$('sift').addEventListener('submit', event => event.preventDefault())
$('sift').addEventListener('reset', () => setTimeout(sift))
if (window.innerWidth < 640) document.querySelector('#sift details').open = false
$('show-cuts').addEventListener('change', () => $('view-board').classList.toggle('no-cuts', !$('show-cuts').checked))
$('print').addEventListener('click', () => window.print())
window.addEventListener('beforeprint', () => { if (openDesk) openDesk.home() })
window.addEventListener('hashchange', () => open())
if (plan.boat) {
  let pressed = [0, 0]
  $('boat-canvas').addEventListener('pointerdown', event => { pressed = [event.clientX, event.clientY] })
  $('boat-canvas').addEventListener('pointerup', event => { if (stage) stage.wasTurned = Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) > 5 })
}
fillChoices()
fillIndex()
light()
open({ isFirst: true })
sift()
