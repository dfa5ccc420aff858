export {
  BufferAttribute, BufferGeometry, Color, DirectionalLight, DoubleSide, EdgesGeometry, Group,
  HemisphereLight, LineBasicMaterial, LineSegments, Matrix4, Mesh, MeshLambertMaterial,
  PerspectiveCamera, Raycaster, Scene, Vector2, Vector3, Box3, WebGLRenderer,
} from 'three'
export { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js'
