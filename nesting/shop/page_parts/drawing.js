'use strict'
// Boards and patterns as SVG, in mm with y upward; and the desk on which one is moved and measured.

const MARGIN_PX = 36 // about a board on its desk: room for the number of a cut off its end
const NEAR_PX = 12 // a measured point goes to a corner that is so near
const TAG_FONT = `bold 13px ${getComputedStyle(document.documentElement).fontFamily}` // the widest that a tag has
const NUMBER_PX = 9.5 // height of a part's number, bold
const OVER = 1.6 // it may be so much higher than its part
const APART_PX = 2 // white about a tag

const pen = document.createElement('canvas').getContext('2d'), widths = new Map()

// Returns how wide words of a tag are, px: those of some scripts are twice as wide as ours.
function widthOf(words) {
  if (!widths.has(words)) {
    pen.font = TAG_FONT
    widths.set(words, pen.measureText(words).width)
  }
  return widths.get(words)
}

function svg(name, attributes = {}, ...content) {
  const element = document.createElementNS('http://www.w3.org/2000/svg', name)
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value)
  element.append(...content)
  return element
}

function linePath(line) {
  let path = `M${line[0]} ${line[1]}`
  for (let k = 2; k < line.length; k += 2) path += `L${line[k]} ${line[k + 1]}`
  return path
}

function ringPath(rings) { return rings.map(ring => `${linePath(ring)}Z`).join('') }

function circlePath(x, y, r) { return `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0` }

function crossPath(x, y, arm, isUpright) {
  return isUpright
    ? `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}`
    : `M${x - arm} ${y - arm}L${x + arm} ${y + arm}M${x - arm} ${y + arm}L${x + arm} ${y - arm}`
}

function boundsOf(rings) {
  const box = [Infinity, Infinity, -Infinity, -Infinity]
  for (const ring of rings) {
    for (let k = 0; k < ring.length; k += 2) {
      box[0] = Math.min(box[0], ring[k]); box[2] = Math.max(box[2], ring[k])
      box[1] = Math.min(box[1], ring[k + 1]); box[3] = Math.max(box[3], ring[k + 1])
    }
  }
  return box
}

function laid([a, b, c, d, e, f], x, y) { return [a * x + c * y + e, b * x + d * y + f] }

function laidRing(place, ring) {
  const moved = []
  for (let k = 0; k < ring.length; k += 2) moved.push(...laid(place, ring[k], ring[k + 1]))
  return moved
}

// Returns how long a level line is that has a point of a ring's inside for its middle.
function roomAt(ring, x, y) {
  let nearest = Infinity
  for (let k = 0; k < ring.length; k += 2) {
    const n = (k + 2) % ring.length, [ax, ay, bx, by] = [ring[k], ring[k + 1], ring[n], ring[n + 1]]
    if ((ay > y) !== (by > y)) nearest = Math.min(nearest, Math.abs(ax + (y - ay) / (by - ay) * (bx - ax) - x))
  }
  return nearest === Infinity ? 0 : 2 * nearest
}

// Returns how long an upright line is that has a point of a ring's inside for its middle.
function heightAt(ring, x, y) { return roomAt(ring.map((_, k) => ring[k ^ 1]), y, x) }

// Says whether a number stands well enough in its own part, that none is taken for a neighbour's.
function isOwn({ short, room, tall }, mmPerPx) {
  return tall === undefined || (widthOf(short) + 2 * APART_PX < room / mmPerPx && NUMBER_PX < OVER * tall / mmPerPx)
}

function lifted([a, b, c, d, e, f], x, y) {
  const turn = a * d - b * c
  return [(d * (x - e) - c * (y - f)) / turn, (a * (y - f) - b * (x - e)) / turn]
}

// A figure: its element, its box, its corners, and how its signs and tags fit so many mm a pixel.
function figureOf(rings) {
  return { element: svg('g'), box: boundsOf(rings), corners: [...rings], signs: [], tags: [], unnumbered: 0 }
}

function refit(figure, mmPerPx) {
  for (const { path, drawn } of figure.signs) path.setAttribute('d', drawn(mmPerPx))
  const taken = []
  figure.unnumbered = 0
  for (const tag of figure.tags) {
    const room = tag.room ? tag.room / mmPerPx : Infinity
    const text = [tag.long, tag.short].find(words => words && widthOf(words) + 2 * APART_PX < room) || tag.short
    const half = widthOf(text) / 2 + APART_PX
    const [x, y] = [tag.at[0] / mmPerPx + tag.off[0], tag.at[1] / mmPerPx + tag.off[1]]
    const box = [x - half, y - 9, x + half, y + 9]
    const isFree = isOwn(tag, mmPerPx) && taken.every(b => box[0] > b[2] || box[2] < b[0] || box[1] > b[3] || box[3] < b[1])
    if (!isFree && tag.tall !== undefined) figure.unnumbered += 1
    if (isFree) taken.push(box)
    tag.element.textContent = isFree ? text : ''
    tag.element.setAttribute('transform', `translate(${x * mmPerPx} ${y * mmPerPx}) scale(${mmPerPx} ${-mmPerPx})`)
  }
}

function addTag(figure, at, words, kind, more = {}) {
  const element = svg('text', { class: `tag ${kind}` })
  figure.tags.push({ element, at, long: words, short: words, off: [0, 0], ...more })
  figure.element.append(element)
}

function addSign(figure, kind, drawn) {
  const path = svg('path', { class: kind })
  figure.signs.push({ path, drawn })
  figure.element.append(path)
}

function boardFigure(board, { chosen = null, withCuts = false } = {}) {
  const figure = figureOf(board.rings)
  const { element } = figure
  element.append(svg('path', { class: 'wood', d: ringPath(board.rings) }))
  const boxes = board.offcuts.map(({ box: [x, y, w, h] }) => `M${x} ${y}h${w}v${h}h${-w}Z`)
  if (boxes.length) element.append(svg('path', { class: 'offcut', d: boxes.join('') }))
  for (const number of board.pieces) element.append(pieceLink(number, figure, chosen))
  element.append(svg('path', { class: 'grain', d: linePath(board.grain) }))
  for (const kind of Object.keys(plan.kinds)) addKeepOuts(figure, board, kind)
  if (board.bungs.length) {
    element.append(svg('path', { class: 'bung', d: board.bungs.map(b => circlePath(...b.at, b.size / 2)).join('') }))
    addSign(figure, 'bung', px => board.bungs.map(b => diamondPath(...b.at, Math.max(b.size * .75, 6 * px))).join(''))
  }
  for (const number of board.pieces) {
    const piece = plan.pieces[number]
    const ring = laidRing(piece.place, needOf(piece).rings[0])
    const spots = needOf(piece).spots.map(spot => laid(piece.place, ...spot))
    const [at, room] = spots.map(spot => [spot, roomAt(ring, ...spot)]).sort((one, other) => other[1] - one[1])[0]
    addTag(figure, at, `${piece.number} \u00b7 ${piece.label}`, 'number', { short: `${piece.number}`, room, tall: heightAt(ring, ...at) })
  }
  if (withCuts && board.cuts) {
    for (const [x, y, words] of board.cuts.stops) addTag(figure, [x, y], words, 'of-cuts', { off: [0, 15] })
    board.cuts.lines.forEach((cut, k) => addCut(figure, cut, `c${k + 1}`))
  }
  board.offcuts.forEach(({ box: [x, y, w, h] }, k) => addTag(figure, [x + w / 2, y + h / 2], `k${k + 1}: keep`, 'keepsake', { short: `k${k + 1}`, room: w }))
  return figure
}

const BEYOND_PX = 9, STOP_PX = 6 // a cut runs on so far off the wood; half the bar at a stop

// Adds a break-down cut with its number, off the wood where it comes in from there, and its stops.
function addCut(figure, { line, edges, stops }, name) {
  const [x, y, u, v] = line, size = Math.hypot(u - x, v - y) || 1, way = [(u - x) / size, (v - y) / size]
  const ends = [[x, y, -way[0], -way[1]], [u, v, ...way]]
  addSign(figure, 'cut', px => {
    const [[a, b], [c, d]] = ends.map(([ex, ey, wx, wy], k) => edges.includes(k) ? [ex + wx * BEYOND_PX * px, ey + wy * BEYOND_PX * px] : [ex, ey])
    return `M${a} ${b}L${c} ${d}`
  })
  if (stops.length) {
    addSign(figure, 'stop', px => stops.flatMap(([sx, sy, wx, wy]) => [0, 3].map(back => {
      const [mx, my] = [sx - wx * back * px, sy - wy * back * px], [dx, dy] = [-wy * STOP_PX * px, wx * STOP_PX * px]
      return `M${mx - dx} ${my - dy}L${mx + dx} ${my + dy}`
    })).join(''))
  }
  const outer = ends.filter((_, k) => edges.includes(k)).sort((one, other) => other[1] - one[1])[0]
  if (outer) addTag(figure, outer.slice(0, 2), name, 'of-cuts', { off: [outer[2] * (BEYOND_PX + 11), outer[3] * (BEYOND_PX + 9)] })
  else addTag(figure, [x + .3 * (u - x), y + .3 * (v - y)], name, 'of-cuts', { off: [12 * way[1], 12 * way[0]] })
}

function pieceLink(number, figure, chosen) {
  const piece = plan.pieces[number], need = needOf(piece)
  const link = svg('a', { class: 'piece', href: `#part-${number}`, 'data-piece': number, 'aria-label': `part ${piece.number}: ${piece.label}` })
  link.append(svg('path', { class: className(need.system), 'fill-rule': 'evenodd', d: ringPath(need.rings), transform: `matrix(${piece.place})` }))
  if (number === chosen) link.classList.add('chosen')
  figure.corners.push(...need.rings.map(ring => laidRing(piece.place, ring)))
  return link
}

function addKeepOuts(figure, board, kind) {
  const some = board.keepOuts.filter(keepOut => keepOut.kind === kind)
  if (!some.length) return
  const edges = some.map(({ circle, rings }) => circle ? circlePath(...circle) : ringPath(rings))
  figure.element.append(svg('path', { class: `keep ${className(kind)}`, 'fill-rule': 'evenodd', d: edges.join('') }))
  if (!['metal', 'hole', 'recess'].includes(kind)) return
  const rounds = some.map(({ circle, rings }) => circle || roundOf(boundsOf(rings)))
  addSign(figure, `sign ${className(kind)}`, px => rounds.map(([x, y, r]) => {
    if (kind === 'recess') return circlePath(x, y, Math.max(r + 2 * px, 3 * px))
    return crossPath(x, y, Math.max(r + 3 * px, 5 * px), kind === 'hole')
  }).join(''))
}

function roundOf([x0, y0, x1, y1]) { return [(x0 + x1) / 2, (y0 + y1) / 2, Math.min(x1 - x0, y1 - y0) / 2] }

function diamondPath(x, y, r) { return `M${x - r} ${y}L${x} ${y - r}L${x + r} ${y}L${x} ${y + r}Z` }

// Returns a part as one of its pieces is seen on its marked face: the other of a pair the other way round.
function asMarked(piece) {
  const need = needOf(piece)
  if (!piece.mirrored) return need
  const turned = line => line.map((figure, k) => k % 2 ? figure : -figure)
  return {
    ...need,
    rings: need.rings.map(turned), spots: need.spots.map(turned), grain: turned(need.grain), grainDeg: 180 - need.grainDeg,
    zones: need.zones.map(zone => ({ ...zone, rings: zone.rings.map(turned) })),
    marks: need.marks.map(mark => ({ ...mark, line: turned(mark.line) })),
  }
}

function patternFigure(piece) {
  const need = asMarked(piece), figure = figureOf(need.rings)
  const { element } = figure
  element.append(svg('path', { class: 'outline', d: ringPath(need.rings) }))
  for (const zone of need.zones) element.append(svg('path', { class: 'zone', d: ringPath(zone.rings) }))
  element.append(svg('path', { class: 'grain', d: linePath(grainLine(need)) }))
  for (const mark of need.marks) addMark(figure, mark)
  if (piece.board !== null) {
    const bungs = plan.boards[piece.board].bungs.filter(bung => bung.piece === piece.label)
    const way = piece.mirrored ? -1 : 1
    const places = bungs.map(bung => { const [x, y] = lifted(piece.place, ...bung.at); return [way * x, y, bung.size / 2] })
    element.append(svg('path', { class: 'bung', d: places.map(place => circlePath(...place)).join('') }))
    addSign(figure, 'bung', px => places.map(([x, y, r]) => diamondPath(x, y, Math.max(1.5 * r, 6 * px))).join(''))
  }
  for (const mark of need.marks) {
    if (!mark.label) continue
    const k = 2 * Math.floor(mark.line.length / 4)
    const at = mark.line.length === 4 ? [(mark.line[0] + mark.line[2]) / 2, (mark.line[1] + mark.line[3]) / 2] : [mark.line[k], mark.line[k + 1]]
    addTag(figure, at, mark.label, '')
  }
  return figure
}

function grainLine(need) {
  if (need.grain.length) return need.grain
  const [x, y] = need.spots[0], [low, , high] = boundsOf(need.rings)
  const turn = need.grainDeg * Math.PI / 180, reach = .3 * (high - low)
  return [x - reach * Math.cos(turn), y - reach * Math.sin(turn), x + reach * Math.cos(turn), y + reach * Math.sin(turn)]
}

function addMark(figure, mark) {
  const kind = `mark ${className(mark.kind)}`
  if (mark.line.length > 2) figure.element.append(svg('path', { class: kind, d: linePath(mark.line) }))
  else if (mark.size) figure.element.append(svg('path', { class: kind, d: circlePath(...mark.line, mark.size / 2) + crossPath(...mark.line, mark.size, true) }))
}

// Returns a figure fitted into a width and a height, to be looked at as it lies.
function pictureOf(figure, width, height, label) {
  const view = viewOf(figure.box, width, height, 3)
  refit(figure, 1 / view.scale)
  const world = svg('g', { class: 'world', transform: view.matrix }, figure.element)
  return svg('svg', { width, height, viewBox: `0 0 ${width} ${height}`, role: 'group', 'aria-label': label }, world)
}

function viewOf([x0, y0, x1, y1], width, height, margin) {
  const scale = Math.min((width - 2 * margin) / (x1 - x0), (height - 2 * margin) / (y1 - y0))
  const left = (width - scale * (x1 - x0)) / 2 - scale * x0
  const foot = (height + scale * (y1 - y0)) / 2 + scale * y0
  return { scale, left, foot, matrix: `matrix(${scale} 0 0 ${-scale} ${left} ${foot})` }
}

// ---- the desk -----------------------------------------------------------------------------------

// Puts a figure on a desk in a place of the page: moved, enlarged and measured there.
function layOut(place, figure, label) {
  const width = Math.max(280, place.clientWidth)
  const [x0, y0, x1, y1] = figure.box
  const high = (y1 - y0) / (x1 - x0) * (width - 2 * MARGIN_PX) + 2 * MARGIN_PX + 30
  const height = Math.round(Math.min(Math.max(high, 220), .7 * window.innerHeight, 640))
  const view = viewOf(figure.box, width, height - 30, MARGIN_PX)
  const world = svg('g', { class: 'world' }, svg('g', { transform: view.matrix }, figure.element))
  const over = svg('g', { class: 'measure' }), ruler = svg('g', { class: 'ruler' })
  const canvas = svg('svg', { viewBox: `0 0 ${width} ${height}`, tabindex: 0, role: 'group', 'aria-label': label }, world, ruler, over)
  const told = made('output', { 'aria-live': 'polite' })
  const desk = { figure, view, world, over, ruler, canvas, told, width, height, at: d3.zoomIdentity, points: [], isMeasuring: false, cursor: null, fitted: 0 }
  const zoom = d3.zoom().scaleExtent([.8, 60]).clickDistance(5)
    .extent([[0, 0], [width, height]])
    .on('zoom', event => { desk.at = event.transform; show(desk) })
  const selected = d3.select(canvas).call(zoom).on('dblclick.zoom', null)
  desk.home = () => selected.call(zoom.transform, d3.zoomIdentity)
  desk.nearer = times => selected.call(zoom.scaleBy, times)
  desk.shift = (x, y) => selected.call(zoom.translateBy, x / desk.at.k, y / desk.at.k)
  place.replaceChildren(made('div', { class: 'desk' }, toolsOf(desk), canvas))
  canvas.addEventListener('click', event => { if (desk.isMeasuring) pick(desk, event) }, true)
  canvas.addEventListener('keydown', event => onKey(desk, event))
  show(desk)
  return desk
}

function toolsOf(desk) {
  const button = (words, label, act) => {
    const element = made('button', { type: 'button', 'aria-label': label }, words)
    element.addEventListener('click', act)
    return element
  }
  desk.measure = button('Measure', 'measure between two points', () => measuring(desk))
  return made('div', { class: 'tools' },
    button('+', 'nearer', () => desk.nearer(1.5)),
    button('\u2212', 'farther', () => desk.nearer(1 / 1.5)),
    button('Whole', 'show the whole', () => desk.home()),
    desk.measure,
    desk.told)
}

function show(desk) {
  desk.world.setAttribute('transform', desk.at)
  const scale = desk.view.scale * desk.at.k
  if (scale !== desk.fitted) {
    desk.fitted = scale
    refit(desk.figure, 1 / scale)
    showRuler(desk, scale)
  }
  showMeasure(desk)
}

// Draws a bar of a round length, no longer than a third of the desk; says how many numbers have no room.
function showRuler(desk, scale) {
  const each = plan.unit.name === 'ft' || plan.unit.name === 'in' ? 25.4 : 10
  const steps = [.1, .5, 1, 2, 6, 12, 24, 60, 120].map(n => n * each)
  const mm = steps.filter(step => step * scale < desk.width / 3).pop() || steps[0]
  const y = desk.height - 10
  const words = svg('text', { x: 22 + mm * scale, y: y + 2 })
  words.textContent = lengthText(mm)
  const more = svg('text', { x: desk.width - 14, y: y + 2, 'text-anchor': 'end' })
  if (desk.figure.unnumbered) more.textContent = `${desk.figure.unnumbered} ${desk.figure.unnumbered > 1 ? 'numbers' : 'number'}: enlarge`
  desk.ruler.replaceChildren(svg('path', { d: `M14 ${y - 8}V${y}H${14 + mm * scale}V${y - 8}` }), words, more)
}

function measuring(desk) {
  desk.isMeasuring = !desk.isMeasuring
  desk.points = []
  desk.cursor = desk.isMeasuring ? [desk.width / 2, desk.height / 2] : null
  desk.measure.setAttribute('aria-pressed', desk.isMeasuring)
  desk.canvas.parentNode.classList.toggle('measuring', desk.isMeasuring)
  desk.told.textContent = desk.isMeasuring ? 'Choose two points; by keys: arrows, then Enter; Escape ends.' : ''
  if (desk.isMeasuring) desk.canvas.focus()
  showMeasure(desk)
}

function toScreen(desk, [x, y]) { return desk.at.apply([desk.view.scale * x + desk.view.left, desk.view.foot - desk.view.scale * y]) }

function toBoard(desk, point) {
  const [x, y] = desk.at.invert(point)
  return [(x - desk.view.left) / desk.view.scale, (desk.view.foot - y) / desk.view.scale]
}

function pick(desk, event) {
  event.preventDefault()
  event.stopPropagation()
  const box = desk.canvas.getBoundingClientRect()
  setPoint(desk, [(event.clientX - box.left) * desk.width / box.width, (event.clientY - box.top) * desk.height / box.height])
}

function setPoint(desk, point) {
  if (desk.points.length > 1) desk.points = []
  desk.points.push(nearestCorner(desk, point) || toBoard(desk, point))
  desk.told.textContent = desk.points.length > 1 ? measured(desk.points) : 'And the other point.'
  showMeasure(desk)
}

function nearestCorner(desk, point) {
  const [x, y] = toBoard(desk, point)
  let best = NEAR_PX / (desk.view.scale * desk.at.k), found = null
  for (const ring of desk.figure.corners) {
    for (let k = 0; k < ring.length; k += 2) {
      const away = Math.hypot(ring[k] - x, ring[k + 1] - y)
      if (away < best) { best = away; found = [ring[k], ring[k + 1]] }
    }
  }
  return found
}

function measured([[ax, ay], [bx, by]]) {
  return `${lengthText(Math.hypot(bx - ax, by - ay))} (along ${lengthText(Math.abs(bx - ax))}, across ${lengthText(Math.abs(by - ay))})`
}

function showMeasure(desk) {
  const ends = desk.points.map(point => toScreen(desk, point))
  const drawn = ends.map(([cx, cy]) => svg('circle', { cx, cy, r: 6 }))
  if (ends.length > 1) {
    drawn.push(svg('path', { d: `M${ends[0]}L${ends[1]}` }))
    const words = svg('text', { x: (ends[0][0] + ends[1][0]) / 2, y: (ends[0][1] + ends[1][1]) / 2 - 9, 'text-anchor': 'middle' })
    words.textContent = lengthText(Math.hypot(desk.points[1][0] - desk.points[0][0], desk.points[1][1] - desk.points[0][1]))
    drawn.push(words)
  }
  if (desk.cursor) drawn.push(svg('path', { d: crossPath(...desk.cursor, 12, true) }))
  desk.over.replaceChildren(...drawn)
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }

function onKey(desk, event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return
  const way = ARROWS[event.key], step = event.shiftKey ? 1 : 12
  if (way && desk.isMeasuring) {
    desk.cursor = [desk.cursor[0] + step * way[0], desk.cursor[1] + step * way[1]]
    showMeasure(desk)
  } else if (way) desk.shift(-40 * way[0], -40 * way[1])
  else if (event.key === '+' || event.key === '=') desk.nearer(1.3)
  else if (event.key === '-') desk.nearer(1 / 1.3)
  else if (event.key === '0') desk.home()
  else if (event.key === 'Enter' && desk.isMeasuring) setPoint(desk, desk.cursor)
  else if (event.key === 'Escape' && desk.isMeasuring) measuring(desk)
  else return
  event.preventDefault()
}
