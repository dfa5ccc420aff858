'use strict'
// Which of the page's views is open, what is sifted out, and what is written of a board or a part.

const $ = id => document.getElementById(id)
const VIEWS = ['boards', 'parts', 'board', 'part', 'boat', 'lists', 'wood', 'left', 'stand', 'cautions']
const SIFTED = ['boards', 'parts', 'boat']
let openDesk = null
let matching = new Set(plan.pieces.keys())

// ---- ways about -----------------------------------------------------------------------------------

function wanted() {
  const [, view, number] = /^#([a-z]+)(?:-(\d+))?$/.exec(location.hash) || []
  const known = VIEWS.includes(view) && $(`view-${view}`)
  const list = { board: plan.boards, part: plan.pieces, boat: plan.pieces }[view]
  const isThere = number === undefined || (list && Number(number) < list.length)
  const isWhole = number !== undefined || !['board', 'part'].includes(view)
  return known && isThere && isWhole ? { view, number: number === undefined ? null : Number(number) } : { view: 'boards', number: null }
}

function open({ isFirst = false } = {}) {
  const { view, number } = wanted()
  for (const name of VIEWS) if ($(`view-${name}`)) $(`view-${name}`).hidden = name !== view
  $('sift').hidden = !SIFTED.includes(view)
  const tab = { board: 'boards', part: 'parts' }[view] || view
  for (const link of document.querySelectorAll('nav a')) {
    if (link.hash === `#${tab}`) link.setAttribute('aria-current', 'page')
    else link.removeAttribute('aria-current')
  }
  openDesk = null
  if (view === 'boards') showRack()
  if (view === 'board') showBoard(number)
  if (view === 'part') showPart(number)
  if (view === 'boat') showBoat(number)
  if (!isFirst) { $(`head-${view}`).focus({ preventScroll: true }); window.scrollTo(0, 0) }
}

// ---- the rack of boards -----------------------------------------------------------------------------

let rackScale = 0
const waiting = 'IntersectionObserver' in window
  ? new IntersectionObserver(seen => seen.filter(s => s.isIntersecting).forEach(s => drawCard(s.target)), { rootMargin: '300px' })
  : { observe: drawCard, unobserve() {} }

function showRack() {
  const rack = $('rack')
  if (rack.childElementCount) return
  const longest = Math.max(...plan.boards.map(board => { const box = boundsOf(board.rings); return box[2] - box[0] }), 1)
  rackScale = Math.min(.45, Math.max(.17, (rack.clientWidth - 16) / longest))
  const cards = plan.boards.map(cardOf)
  const rest = plan.boards.findIndex(board => !board.pieces.length)
  if (rest >= 0) cards.splice(rest, 0, made('li', { class: 'apart' }, 'Not opened'))
  rack.append(...cards)
  for (const card of cards) if (card.dataset.board) waiting.observe(card)
  $('systems').replaceChildren(...SYSTEMS.map(systemSwatch))
}

function systemSwatch(system) {
  return made('span', {}, svgSwatch(className(system)), system)
}

function svgSwatch(kind) {
  return svg('svg', { width: 18, height: 14, 'aria-hidden': 'true' }, svg('rect', { class: kind, width: 18, height: 14 }))
}

function cardOf(board, number) {
  const [x0, y0, x1, y1] = boundsOf(board.rings)
  const [width, height] = [Math.round((x1 - x0) * rackScale) + 6, Math.round((y1 - y0) * rackScale) + 6]
  const place = svg('svg', { width, height, viewBox: `0 0 ${width} ${height}`, 'aria-hidden': 'true' })
  const words = [board.wood, board.thick, ...(board.pieces.length ? [`${board.pieces.length} ${board.pieces.length > 1 ? 'parts' : 'part'}`, `scrap ${board.scrap}\u00a0%`] : [])]
  const caption = made('span', { class: 'caption' }, made('a', { href: `#board-${number}` }, nameText(board.name)), ' ', made('span', {}, words.join(', ')))
  return made('li', { 'data-board': number }, caption, made('div', { class: 'run' }, place))
}

function drawCard(card) {
  waiting.unobserve(card)
  const board = plan.boards[card.dataset.board], place = card.lastChild.firstChild
  const picture = pictureOf(boardFigure(board), Number(place.getAttribute('width')), Number(place.getAttribute('height')), `Parts on board ${board.name}`)
  place.replaceWith(picture)
  dim(picture)
}

// ---- sifting ----------------------------------------------------------------------------------------

function fillChoices() {
  const fill = (id, rows) => $(id).append(...rows.map(([value, words]) => made('option', { value }, words)))
  const sorted = words => [...new Set(words)].sort()
  fill('sift-wood', sorted(plan.boards.map(board => board.wood)).map(wood => [wood, wood]))
  fill('sift-thick', [...new Set(plan.boards.map(board => board.thick))].map(thick => [thick, thick]))
  fill('sift-board', plan.boards.map((board, number) => [number, board.name]))
  fill('sift-part', plan.needs.map((need, number) => [number, need.part]))
  fill('sift-system', SYSTEMS.map(system => [system, system]))
}

function chosen() {
  const value = id => $(`sift-${id}`).value
  return { name: value('name').trim().toLowerCase(), wood: value('wood'), thick: value('thick'), board: value('board'), part: value('part'), system: value('system') }
}

function sift() {
  const { name, wood, thick, board, part, system } = chosen()
  const fitsBoard = (b, number) => (!wood || b.wood === wood) && (!thick || b.thick === thick) && (!board || `${number}` === board)
  const isNamed = text => text.toLowerCase().includes(name)
  const fits = piece => {
    const need = needOf(piece), on = piece.board === null ? null : plan.boards[piece.board]
    if (on ? !fitsBoard(on, piece.board) : wood || thick || board) return false
    return (!part || `${piece.need}` === part) && (!system || need.system === system) && (!name || isNamed(piece.label) || isNamed(need.family) || (on && isNamed(on.name)))
  }
  matching = new Set([...plan.pieces.keys()].filter(number => fits(plan.pieces[number])))
  const isShown = (b, number) => fitsBoard(b, number) && (b.pieces.some(k => matching.has(k)) || (!part && !system && (!name || isNamed(b.name))))
  const shown = new Set([...plan.boards.keys()].filter(number => isShown(plan.boards[number], number)))
  for (const card of $('rack').children) if (card.dataset.board) card.hidden = !shown.has(Number(card.dataset.board))
  for (const row of $('index').tBodies[0].rows) row.hidden = !matching.has(Number(row.dataset.piece))
  dim($('rack'))
  $('sift-found').textContent = `${shown.size} of ${plan.boards.length} boards, ${matching.size} of ${plan.pieces.length} parts`
  if (typeof siftBoat === 'function') siftBoat()
}

function dim(place) {
  for (const link of place.querySelectorAll('.piece')) link.classList.toggle('dim', !matching.has(Number(link.dataset.piece)))
}

// ---- the table of parts -------------------------------------------------------------------------------

function fillIndex() {
  const rows = plan.pieces.map((piece, number) => {
    const on = piece.board === null ? 'to buy' : made('a', { href: `#board-${piece.board}` }, nameText(plan.boards[piece.board].name))
    const cells = [made('a', { href: `#part-${number}` }, nameText(piece.label)), on, `${piece.number || ''}`, needOf(piece).facts[0][1], needOf(piece).facts[1][1], piece.stands || '']
    return made('tr', { 'data-piece': number }, ...cells.map(cell => made('td', {}, cell)))
  })
  $('index').tBodies[0].append(...rows)
}

// A heading and what is under it, which may be wider than a phone.
function block(title, content) {
  return made('div', {}, made('h3', {}, title), made('div', { class: 'wide', tabindex: 0, role: 'region', 'aria-label': title }, content))
}

// ---- one board ------------------------------------------------------------------------------------------

function showBoard(number) {
  const board = plan.boards[number]
  $('head-board').replaceChildren('Board ', nameText(board.name))
  openDesk = layOut($('board-drawing'), boardFigure(board, { withCuts: true }), `Board ${board.name}: arrow keys move it, plus and minus enlarge it`)
  $('board-key').replaceChildren(...signsOn(board))
  $('with-cuts').hidden = !board.cuts || !board.cuts.lines.length
  const sheet = board.sheet ? [['cut sheet', board.sheet]] : []
  const [turn] = rowsOf('order', number)
  if (turn) sheet.push(['order of cutting', `${turn.cells[0].textContent} of ${$('list-order').tBodies[0].rows.length}`])
  const blocks = [factsOf([...board.facts, ...sheet, ...sharesOf(board), ['cut lines', `finished edges: saw ${plan.trim} outside`]])]
  if (board.pieces.length) blocks.push(block('Parts on it', tableOf(['no.', 'part', 'size', 'thick', 'along', 'across', 'face'], board.pieces.map(partRow))))
  if (board.bungs.length) blocks.push(block('Bungs', tableOf(['diameter', 'along', 'across', 'in part'], board.bungs.map(b => [b.told, b.along, b.across, nameText(b.piece)]))))
  if (board.offcuts.length) blocks.push(block('Offcuts to keep', tableOf(['', 'size', 'in it'], board.offcuts.map((o, k) => [`k${k + 1}`, o.told, o.holds]))))
  if (board.cuts) blocks.push(...cutBlocks(board.cuts))
  const old = rowsOf('holes', number).map(row => [...row.cells].slice(1).map(cell => nameText(cell.textContent)))
  if (old.length) blocks.push(block('Old fastenings to keep clear of or use again', tableOf([...$('list-holes').tHead.rows[0].cells].slice(1).map(cell => cell.textContent), old)))
  $('board-facts').replaceChildren(...blocks)
  document.title = `Board ${board.name}: ${plan.name}`
}

// Returns the rows of a list of the page that are about a board.
function rowsOf(word, number) {
  return [...document.querySelectorAll(`#list-${word} tr[data-board="${number}"]`)]
}

function cutBlocks({ list, left, told }) {
  const blocks = [list, left].filter(one => one.rows.length).map(one => block(one.heading, tableOf(one.columns, one.rows)))
  if (told.length) blocks.push(made('div', {}, made('h3', {}, 'On stopped cuts'), ...told.map(line => made('p', {}, line))))
  return blocks
}

function sharesOf(board) {
  if (!board.shares) return [['opened', 'no']]
  return Object.entries(board.shares).map(([share, percent]) => [share.replaceAll('_', ' '), `${percent.toFixed(1)} %`]).concat([['scrap', `${board.scrap} %`]])
}

function partRow(number) {
  const piece = plan.pieces[number], facts = Object.fromEntries(piece.facts)
  return [`${piece.number}`, made('a', { href: `#part-${number}` }, nameText(piece.label)), needOf(piece).facts[0][1], needOf(piece).facts[1][1], facts['along the base line'], facts['across from it'], facts['marked face']]
}

// Says which signs are on a board, each with its own drawing.
function signsOn(board) {
  const found = Object.keys(plan.kinds).filter(kind => board.keepOuts.some(k => k.kind === kind)).map(kind => {
    const sign = svg('g', { class: 'world' }, svg('path', { class: `keep ${className(kind)}`, d: ['metal', 'hole', 'recess'].includes(kind) ? circlePath(13, 10, 3) : 'M1 2H25V18H1Z' }))
    if (kind === 'metal' || kind === 'hole') sign.append(svg('path', { class: `sign ${kind}`, d: crossPath(13, 10, 8, kind === 'hole') }))
    if (kind === 'recess') sign.append(svg('path', { class: 'sign recess', d: circlePath(13, 10, 6) }))
    const count = board.keepOuts.filter(k => k.kind === kind).length
    return made('span', {}, svg('svg', { width: 26, height: 20, 'aria-hidden': 'true' }, sign), `${plan.kinds[kind]}: ${count}`)
  })
  if (board.bungs.length) found.push(made('span', {}, svg('svg', { width: 26, height: 20, 'aria-hidden': 'true' }, svg('path', { class: 'bung', d: circlePath(13, 10, 4) + diamondPath(13, 10, 9) })), `bung to set: ${board.bungs.length}`))
  if (board.cuts && board.cuts.lines.length) {
    const line = svg('g', { class: 'world' }, svg('path', { class: 'cut', d: 'M1 10H25' }))
    found.push(made('span', { class: 'of-cuts' }, svg('svg', { width: 26, height: 20, 'aria-hidden': 'true' }, line), `break-down cut, in order: ${board.cuts.lines.length}`))
  }
  if (board.cuts && board.cuts.lines.some(cut => cut.stops.length)) {
    const line = svg('g', { class: 'world' }, svg('path', { class: 'cut', d: 'M1 10H20' }), svg('path', { class: 'stop', d: 'M17 4V16M20 4V16' }))
    found.push(made('span', { class: 'of-cuts' }, svg('svg', { width: 26, height: 20, 'aria-hidden': 'true' }, line), 'STOP: the cut ends at the bar, in the wood'))
  }
  return found
}

// ---- one part -------------------------------------------------------------------------------------------

function showPart(number) {
  const piece = plan.pieces[number], need = needOf(piece)
  $('head-part').replaceChildren(nameText(piece.label))
  const acts = [made('a', { href: '#parts' }, 'All parts')]
  if (piece.board !== null) acts.push(made('a', { href: `#board-${piece.board}` }, 'Board ', nameText(plan.boards[piece.board].name)))
  if (piece.stands) acts.push(made('a', { href: `#boat-${number}` }, 'See it in the boat'))
  $('part-acts').replaceChildren(...acts)
  openDesk = layOut($('part-drawing'), patternFigure(piece), `Pattern of ${piece.label}, seen on its marked face: arrow keys move it, plus and minus enlarge it`)
  const where = [['family', need.family || 'none'], ['system', need.system], ...(piece.stands ? [['stands', piece.stands]] : [])]
  const blocks = [factsOf([...need.facts, ...where, ...piece.facts])]
  if (piece.board !== null) blocks.push(onBoard(number, piece))
  if (need.bevels.length) blocks.push(block('Bevels, from square', tableOf(['edge, as the marked face is seen', 'where', 'bevel'], need.bevels)))
  if (need.notes.length) blocks.push(made('div', {}, made('h3', {}, 'Notes'), made('ul', {}, ...need.notes.map(note => made('li', {}, note)))))
  $('part-facts').replaceChildren(...blocks)
  document.title = `${piece.label}: ${plan.name}`
}

function onBoard(number, piece) {
  const board = plan.boards[piece.board], [x0, y0, x1, y1] = boundsOf(board.rings)
  const width = Math.min(560, $('part-facts').clientWidth - 4), height = Math.max(24, Math.round((y1 - y0) / (x1 - x0) * width) + 6)
  return made('div', {}, made('h3', {}, 'Where it lies on board ', nameText(board.name)), pictureOf(boardFigure(board, { chosen: number }), width, height, `Parts on board ${board.name}`))
}
