// Prints what an independent reader sees in an IFC file:
//   node read_meshes.mjs FILE.ifc  ->  {"GlobalId": {"type", "box": [[x,y,z],[x,y,z]] in mm, "triangles"}}
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const WebIFC = createRequire(import.meta.url)("web-ifc");
const api = new WebIFC.IfcAPI();
// Its log would land on stdout, between the lines of the result.
console.log = console.error;
await api.Init();
api.SetLogLevel(WebIFC.LogLevel.LOG_LEVEL_OFF);

const model = api.OpenModel(readFileSync(process.argv[2]), { COORDINATE_TO_ORIGIN: false });
if (model < 0) {
  console.error(`web-ifc cannot open ${process.argv[2]}`);
  process.exit(2);
}
const found = {};
api.StreamAllMeshes(model, (mesh) => {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  let triangles = 0;
  for (let i = 0; i < mesh.geometries.size(); i++) {
    const placed = mesh.geometries.get(i);
    const m = placed.flatTransformation; // column major
    const body = api.GetGeometry(model, placed.geometryExpressID);
    const points = api.GetVertexArray(body.GetVertexData(), body.GetVertexDataSize()); // x y z and a normal
    const index = api.GetIndexArray(body.GetIndexData(), body.GetIndexDataSize());
    triangles += index.length / 3;
    for (const k of index) {
      const [x, y, z] = points.subarray(6 * k, 6 * k + 3);
      const [a, b, c] = [0, 1, 2].map((r) => m[r] * x + m[r + 4] * y + m[r + 8] * z + m[r + 12]);
      // The reader works in metres with Y up; the model has Z up.
      [a, -c, b].forEach((value, axis) => {
        low[axis] = Math.min(low[axis], value * 1000);
        high[axis] = Math.max(high[axis], value * 1000);
      });
    }
    body.delete();
  }
  const line = api.GetLine(model, mesh.expressID);
  found[line.GlobalId.value] = { type: line.constructor.name, box: [low, high], triangles };
});
process.stdout.write(JSON.stringify(found));
