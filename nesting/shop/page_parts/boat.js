'use strict'
// The pieces in the boat. She is drawn anew only when something moved.

const OKABE_ITO = ['#e69f00', '#56b4e9', '#009e73', '#f0e442', '#0072b2', '#d55e00', '#cc79a7']
const NO_BOARD = '#9a9a94'
const SAWN = { name: 'sawn already', colour: '#5b4326' }
let stage = null

function showBoat(number) {
  const isFirst = !stage
  if (isFirst) stage = setStage()
  if (!stage) return
  sizeStage()
  if (isFirst) boatHome()
  if (number !== null) choosePiece(stage.pieces.find(piece => piece.data.pieces.includes(number)))
  siftBoat()
}

function setStage() {
  const canvas = $('boat-canvas')
  let renderer
  try {
    renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true })
  } catch {
    $('boat-chosen').textContent = 'This browser cannot draw in three dimensions; the table of parts says where each stands.'
    return null
  }
  renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2))
  const scene = new THREE.Scene(), camera = new THREE.PerspectiveCamera(35, 1, 50, 200000)
  camera.up.set(0, 0, 1)
  const sun = new THREE.DirectionalLight('#ffffff', 1.7)
  scene.add(new THREE.HemisphereLight('#ffffff', '#8a8070', 1.9), sun)
  const pieces = plan.boat.standing.map(piece => pieceInBoat(piece, scene))
  const lines = hullLines(scene)
  const box = new THREE.Box3().setFromObject(scene)
  const controls = new THREE.OrbitControls(camera, canvas)
  const found = { renderer, scene, camera, sun, pieces, lines, box, controls, chosen: null, isDue: false }
  controls.addEventListener('change', () => due())
  canvas.addEventListener('keydown', turnByKeys)
  canvas.addEventListener('click', pickPiece)
  $('boat-by').addEventListener('change', colourBoat)
  $('boat-names').addEventListener('change', () => due())
  $('boat-home').addEventListener('click', boatHome)
  new ResizeObserver(() => { if (!$('view-boat').hidden) sizeStage() }).observe($('boat-stage'))
  stage = found
  colourBoat()
  return found
}

function typed(text, Kind) {
  const bytes = Uint8Array.from(atob(text), letter => letter.charCodeAt(0))
  return new Kind(bytes.buffer)
}

function pieceInBoat(piece, scene) {
  const mesh = plan.boat.meshes[piece.mesh]
  const shape = new THREE.BufferGeometry()
  const points = Float32Array.from(typed(mesh.points, Int16Array), step => step * mesh.step)
  shape.setAttribute('position', new THREE.BufferAttribute(points, 3))
  shape.setIndex(new THREE.BufferAttribute(typed(mesh.corners, mesh.bits === 16 ? Uint16Array : Uint32Array), 1))
  const [x, y, z] = piece.axes
  shape.applyMatrix4(new THREE.Matrix4().set(x[0], y[0], z[0], piece.origin[0], x[1], y[1], z[1], piece.origin[1], x[2], y[2], z[2], piece.origin[2], 0, 0, 0, 1))
  const body = new THREE.Mesh(shape, new THREE.MeshLambertMaterial({ flatShading: true, side: THREE.DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 }))
  const edges = new THREE.LineSegments(new THREE.EdgesGeometry(shape, 25), new THREE.LineBasicMaterial())
  scene.add(body, edges)
  return { data: piece, body, edges, middle: new THREE.Box3().setFromObject(body).getCenter(new THREE.Vector3()) }
}

function hullLines(scene) {
  const pairs = []
  for (const line of plan.boat.lines) {
    for (let k = 0; k + 5 < line.length; k += 3) pairs.push(...line.slice(k, k + 6))
  }
  const shape = new THREE.BufferGeometry()
  shape.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(pairs), 3))
  const lines = new THREE.LineSegments(shape, new THREE.LineBasicMaterial({ transparent: true, opacity: .35 }))
  scene.add(lines)
  return lines
}

function boardOf(standing) {
  const numbers = new Set(standing.pieces.map(k => plan.pieces[k].board).filter(k => k !== null))
  return [...numbers].map(k => plan.boards[k].name).join(', ')
}

function groupOf(standing) {
  const first = plan.pieces[standing.pieces[0]], by = $('boat-by').value
  if (!first) return standing.sawn ? SAWN.name : ''
  if (by === 'system') return needOf(first).system
  if (by === 'wood') return first.board === null ? '' : plan.boards[first.board].wood
  return boardOf(standing)
}

function colourBoat() {
  const groups = [...new Set(stage.pieces.map(piece => groupOf(piece.data)))].filter(Boolean)
  const colours = new Map(groups.map((group, k) => [group, OKABE_ITO[k % OKABE_ITO.length]]))
  if (groups.includes(SAWN.name)) colours.set(SAWN.name, SAWN.colour)
  for (const piece of stage.pieces) {
    piece.group = groupOf(piece.data)
    piece.body.material.color.set(colours.get(piece.group) || NO_BOARD)
  }
  const chips = [...groups, ''].map(group => {
    const chip = made('span', { class: 'chip' })
    chip.style.background = colours.get(group) || NO_BOARD
    const button = made('button', { type: 'button' }, chip, ' ', nameText(group || 'no board'))
    button.addEventListener('click', () => pickOut(button, group))
    return made('span', {}, button)
  })
  $('boat-key').replaceChildren(...chips)
  stage.only = null
  siftBoat()
}

// Shows the pieces of one group alone, or all again.
function pickOut(button, group) {
  const isPressed = button.getAttribute('aria-pressed') === 'true'
  for (const other of $('boat-key').querySelectorAll('button')) other.removeAttribute('aria-pressed')
  if (!isPressed) button.setAttribute('aria-pressed', 'true')
  stage.only = isPressed ? null : group
  siftBoat()
}

function siftBoat() {
  if (!stage) return
  const dark = document.documentElement.classList.contains('dark')
  const ink = dark ? '#f2ede2' : '#1b2430'
  for (const piece of stage.pieces) {
    const isOfSift = piece.data.pieces.some(k => matching.has(k)) || (!piece.data.pieces.length && matching.size === plan.pieces.length)
    piece.isShown = isOfSift && (stage.only === null || stage.only === undefined || piece.group === stage.only)
    piece.body.visible = piece.isShown
    const isChosen = piece === stage.chosen
    piece.edges.material.color.set(isChosen ? (dark ? '#8fd0f5' : '#b23a00') : ink)
    piece.edges.material.transparent = true
    piece.edges.material.opacity = piece.isShown ? 1 : .13
    piece.body.material.emissive.set(isChosen ? '#5a4010' : '#000000')
  }
  stage.lines.material.color.set(ink)
  due()
}

function choosePiece(piece) {
  stage.chosen = piece || null
  const told = $('boat-chosen')
  told.replaceChildren()
  if (piece) {
    const [first] = piece.data.pieces
    const board = boardOf(piece.data) || piece.data.sawn
    const from = piece.data.sawn ? 'sawn of board ' : board ? 'board ' : 'no board'
    told.append(first === undefined ? nameText(piece.data.label) : made('a', { href: `#part-${first}` }, nameText(piece.data.label)), ', ', from, nameText(board), `: ${piece.data.where}`)
  }
  siftBoat()
}

function pickPiece(event) {
  if (stage.wasTurned) return
  const box = event.target.getBoundingClientRect()
  const at = new THREE.Vector2((event.clientX - box.left) / box.width * 2 - 1, 1 - (event.clientY - box.top) / box.height * 2)
  const ray = new THREE.Raycaster()
  ray.setFromCamera(at, stage.camera)
  const [hit] = ray.intersectObjects(stage.pieces.filter(piece => piece.isShown).map(piece => piece.body))
  choosePiece(hit && stage.pieces.find(piece => piece.body === hit.object))
}

function boatHome() {
  const middle = stage.box.getCenter(new THREE.Vector3()), size = stage.box.getSize(new THREE.Vector3()).length()
  stage.controls.target.copy(middle)
  stage.camera.position.copy(middle).add(new THREE.Vector3(-.55, .75, .5).normalize().multiplyScalar(Math.max(.8, 1.35 / stage.camera.aspect) * size))
  stage.controls.update()
  due()
}

function turnByKeys(event) {
  const way = ARROWS[event.key]
  const times = { '+': .85, '=': .85, '-': 1 / .85 }[event.key]
  if (!way && !times && event.key !== '0') return
  event.preventDefault()
  if (event.key === '0') return boatHome()
  const { camera, controls } = stage, offset = camera.position.clone().sub(controls.target)
  if (times) offset.multiplyScalar(times)
  else {
    offset.applyAxisAngle(camera.up, -.12 * way[0])
    const side = new THREE.Vector3().crossVectors(camera.up, offset).normalize()
    const turned = offset.clone().applyAxisAngle(side, .12 * way[1])
    if (turned.angleTo(camera.up) > .1 && turned.angleTo(camera.up) < Math.PI - .1) offset.copy(turned)
  }
  camera.position.copy(controls.target).add(offset)
  controls.update()
  due()
}

function sizeStage() {
  const { clientWidth: width, clientHeight: height } = $('boat-stage')
  stage.renderer.setSize(width, height, false)
  stage.camera.aspect = width / height
  stage.camera.updateProjectionMatrix()
  due()
}

function due() {
  if (!stage || stage.isDue) return
  stage.isDue = true
  requestAnimationFrame(() => { stage.isDue = false; drawBoat() })
}

function drawBoat() {
  stage.sun.position.copy(stage.camera.position)
  stage.renderer.render(stage.scene, stage.camera)
  const tags = $('boat-tags')
  tags.replaceChildren()
  if (!$('boat-names').checked) return
  const { clientWidth: width, clientHeight: height } = $('boat-stage'), taken = []
  const shown = stage.pieces.filter(piece => piece.isShown).map(piece => ({ piece, at: piece.middle.clone().project(stage.camera) }))
  for (const { piece, at } of shown.sort((one, other) => one.at.z - other.at.z)) {
    const [x, y] = [(at.x + 1) / 2 * width, (1 - at.y) / 2 * height], words = piece.group || 'none'
    const half = widthOf(words) / 2 + 6
    if (taken.some(([u, v, w]) => Math.abs(u - x) < w + half && Math.abs(v - y) < 18)) continue
    taken.push([x, y, half])
    const tag = made('span', {}, words)
    tag.style.left = `${x}px`
    tag.style.top = `${y}px`
    tags.append(tag)
  }
}
