// Labels of zones, hazards, parts, passes and points, and the size of the signs that they keep clear of.

// Labels: the largest zones first, none over another.
const labelLayer = L.layerGroup().addTo(map);
let taken = [];
let signs = []; // boxes of the points: a label leaves a pit free, and a station where it can
const overlaps = (a, b) => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
const letters = document.createElement("canvas").getContext("2d");
letters.font = `700 15px ${getComputedStyle(document.body).fontFamily}`;
const widthOf = (words) => Math.ceil(letters.measureText(words).width) + 8;
function boxAt(place, shift, w, h) {
  const middle = map.latLngToContainerPoint(place).add(shift);
  const box = { x: middle.x - w / 2, y: middle.y - h / 2, w, h, middle };
  const size = map.getSize();
  const onMap = box.x >= 0 && box.y >= 0 && box.x + w <= size.x && box.y + h <= size.y;
  return onMap && !taken.some((other) => overlaps(box, other)) ? box : null;
}
function putLabel(place, lines, w, h, style, shifts = [[0, 0]], on = () => true) {
  const boxes = shifts.map((shift) => boxAt(place, shift, w, h)).filter((box) => box && on(box));
  for (const box of boxes) box.over = signs.filter((sign) => overlaps(box, sign));
  const [box] = boxes.filter((one) => !one.over.some((sign) => sign.pit)).sort((a, b) => a.over.length - b.over.length);
  if (!box) return null;
  taken.push(box);
  const [head, foot] = lines;
  const html = make("div", {}, head, foot ? make("small", {}, foot) : null);
  L.marker(map.containerPointToLatLng(box.middle), still("labels", { icon: L.divIcon({ className: `mark-label ${style}`, html, iconSize: null, iconAnchor: [w / 2, h / 2] }) })).addTo(labelLayer);
  return box;
}
function metresAPixel() {
  const middle = map.getCenter();
  const away = map.containerPointToLatLng(map.latLngToContainerPoint(middle).add([100, 0]));
  return map.distance(middle, away) / 100;
}
const LABEL_FROM_PX = 6.5;
// Whether a label lies on its own zone, or off the field, with most of itself.
function liesOn(box, zone) {
  let own = 0;
  for (const across of [0.05, 0.275, 0.5, 0.725, 0.95]) {
    for (const down of [0.1, 0.5, 0.9]) {
      const { lat, lng } = map.containerPointToLatLng([box.x + across * box.w, box.y + down * box.h]);
      if (inside([lat, lng], zone.areas) || !inside([lat, lng], inField)) own += 1;
    }
  }
  return own >= 8;
}
// Where a label may stand about its place, the place itself first.
const about = (right, down) => [[0, 0], [0, -down], [0, down], [-right, 0], [right, 0], [-right, -down], [right, -down], [-right, down], [right, down]];
const SAME_AGAIN_PX = 190; // a zone is labelled again only so far from its own last label
function labelZone(zone, place, roomPx) {
  const off = keepsOff(zone);
  const depth = zone.depth_cm > 0 ? short(zone.depth_cm, 1) : off ? "keep off" : "lifted";
  // A label may leave the middle of its zone, not the zone.
  const middle = map.latLngToContainerPoint(place);
  if (zone.labels.some((other) => other.distanceTo(middle) < SAME_AGAIN_PX)) return;
  const within = (shift) => {
    const at = map.containerPointToLatLng(middle.add(shift));
    return shift.every((move) => move === 0) || inside([at.lat, at.lng], zone.areas);
  };
  const style = isHeld(zone) ? "boxed not-cleared" : "boxed";
  const on = (box) => liesOn(box, zone);
  const large = roomPx >= 30 && !zone.labels.length
    && putLabel(place, [zone.depth_cm > 0 ? `${depth} cm` : off ? "KEEP OFF" : "legs lifted", `zone ${zone.zone}${isHeld(zone) ? " NC" : ""}`], off ? 92 : 78, 36, style, about(30, 22).filter(within), on);
  const put = large || putLabel(place, [depth], widthOf(depth), 19, style, [...about(roomPx * 0.7, roomPx * 0.7), ...about(roomPx * 1.3, roomPx * 1.3)].filter(within), on);
  if (put) zone.labels.push(put.middle);
}
function labelZones(scale) {
  const largestFirst = [...data.zones].sort((a, b) => b.room_m - a.room_m);
  for (const zone of largestFirst) {
    zone.labels = [];
    if (zone.room_m / scale >= LABEL_FROM_PX) labelZone(zone, zone.place, zone.room_m / scale);
  }
  for (const zone of largestFirst) {
    for (const [east, north, roomM] of zone.more) {
      if (roomM / scale >= LABEL_FROM_PX) labelZone(zone, placeOf([east, north]), roomM / scale);
    }
  }
}
// Tags of hazards: beside their own sign, nearer to it than to any other, so away from crossings.
const TAG_EVERY_PX = 260;
const SPOTS_TRIED = 8;
const SIGN_PX = 9;
const onScreen = (places) => places.map((place) => map.latLngToContainerPoint(place));
const legsOf = (points) => points.slice(1).map((point, i) => [points[i], point]);
function hazardShapes(hazard) {
  const rings = areasOf(hazard.areas).map(([outer]) => onScreen([...outer, outer[0]]));
  const points = hazard.points.map((point) => onScreen([placeOf(point)])[0]);
  return [...points.map((point) => ({ at: [point], legs: [[point, point]], room: SIGN_PX })),
    ...[...hazard.lines.map((line) => onScreen(runOf(line))), ...rings].map((run) => ({ at: alongRun(run), legs: legsOf(run), room: 3 }))]
    .map((shape) => ({ ...shape, bounds: L.bounds(shape.legs.flat()) }));
}
// Points evenly along the part of a run that is in sight.
function alongRun(run) {
  const sight = map.getSize();
  const cut = legsOf(run).map(([a, b]) => L.LineUtil.clipSegment(a, b, L.bounds([0, 0], sight), false, true)).filter(Boolean);
  const every = Math.max(24, cut.reduce((sum, [a, b]) => sum + a.distanceTo(b), 0) / 24);
  return cut.flatMap(([a, b]) => {
    const many = Math.max(1, Math.round(a.distanceTo(b) / every));
    return Array.from({ length: many }, (_, i) => a.add(b.subtract(a).multiplyBy((i + 0.5) / many)));
  });
}
const farFrom = (point, shape) => Math.min(...shape.legs.map(([a, b]) => L.LineUtil.pointToSegmentDistance(point, a, b))) - shape.room;
const cornersOf = ({ x, y, w, h }) => [0, 0.5, 1].flatMap((across) => [0, 0.5, 1].map((down) => L.point(x + across * w, y + down * h)));
// Shapes further from a spot than a tag reaches say nothing of it.
const NEAR_PX = 90;
const near = (shapes, { x, y }) => shapes.filter(({ bounds }) => bounds.intersects(L.bounds([x - NEAR_PX, y - NEAR_PX], [x + NEAR_PX, y + NEAR_PX])));
const boxFarFrom = (box, shapes) => Math.min(Infinity, ...near(shapes, box.middle).map((shape) => Math.min(...cornersOf(box).map((corner) => farFrom(corner, shape)))));
function labelHazards() {
  const all = data.hazards.map((hazard) => ({ hazard, shapes: hazardShapes(hazard) }));
  for (const { hazard, shapes } of all) {
    const others = all.filter((one) => one.hazard !== hazard).flatMap((one) => one.shapes);
    const w = widthOf(hazard.tag);
    const put = [];
    for (const shape of shapes) {
      // A box of middle `at` stands clear of its own sign and further from every other one.
      const clear = (box) => {
        const own = boxFarFrom(box, shapes);
        return own >= 2 && boxFarFrom(box, others) > own + 4;
      };
      const free = (at) => Math.min(60, ...near(others, at).map((other) => farFrom(at, other)));
      const spots = shape.at.filter((at) => !put.some((other) => other.distanceTo(at) < TAG_EVERY_PX))
        .map((at) => ({ at, free: free(at) })).sort((a, b) => b.free - a.free).slice(0, SPOTS_TRIED).map(({ at }) => at);
      for (const spot of spots) {
        const right = w / 2 + shape.room + 6;
        const down = shape.room + 16;
        const box = putLabel(map.containerPointToLatLng(spot), [hazard.tag], w, 19, "boxed", about(right, down).slice(1), clear);
        if (box) { put.push(box.middle); break; }
      }
    }
  }
}
function labelChanges() {
  if (map.getZoom() < LABELS_OF_PASSES_FROM) return;
  for (const change of changes) {
    const words = [change.before, change.after].map((cm) => (cm > 0 ? short(cm, 1) : "lift")).join(" ↔ ");
    const w = widthOf(words);
    if (!map.getBounds().contains(change.place)) continue;
    const beside = map.latLngToContainerPoint(change.place).add([w / 2 + 5, 0]);
    putLabel(map.containerPointToLatLng(beside), [words], w, 19, "boxed");
  }
}
// Ground that is not of the field, so that a pond is no white shape without words.
function labelGaps(scale) {
  for (const gap of data.gaps) {
    const room = (2 * gap.room_m) / scale;
    const [lines, h] = room >= widthOf(GAP_LIMIT) ? [[GAP_NAME, GAP_LIMIT], 36] : room >= widthOf(GAP_NAME) ? [[GAP_NAME], 19] : [["gap"], 19];
    putLabel(gap.place, lines, Math.max(...lines.map(widthOf)), h, "boxed", about(0, 18));
  }
}
function labelUnread(one) {
  [FAR, "unread"].some((words) => putLabel(placeOf(one.at), [words], widthOf(words), 19, "boxed", about(0, 22)));
}
// Numbers of passes at both ends of what is in sight of them, where lines are far enough apart.
const [PASS_END_X_PX, PASS_END_Y_PX] = [70, 26];
function labelPasses() {
  if (!passesAreNear()) return;
  const { x, y } = map.getSize();
  const sight = L.bounds([PASS_END_X_PX, PASS_END_Y_PX], [x - PASS_END_X_PX, y - PASS_END_Y_PX]);
  for (const pass of data.passes) {
    const points = onScreen(pass.lines.flat());
    const seen = legsOf(points).map(([a, b]) => L.LineUtil.clipSegment(a, b, sight, false, true)).filter(Boolean);
    if (!seen.length) continue;
    const words = `pass ${pass.pass}${pass.out ? ", leave out" : ""}`;
    const w = widthOf(words);
    const ends = [seen[0], [...seen[seen.length - 1]].reverse()];
    // Beyond the end of its line, so that the line runs to the middle of the number.
    for (const [end, from] of ends[0][0].distanceTo(ends[1][0]) > 2 * w ? ends : ends.slice(0, 1)) {
      const away = end.subtract(from).divideBy(end.distanceTo(from) || 1);
      const out = Math.min(w / 2 / (Math.abs(away.x) || 0.01), 9.5 / (Math.abs(away.y) || 0.01)) + 1;
      putLabel(map.containerPointToLatLng(end.add(away.multiplyBy(out))), [words], w, 19, "boxed pass");
    }
  }
}
function labelPoints(records, name) {
  for (const record of records) {
    // Below its sign, else above it or beside it.
    const words = String(name(record));
    const beside = widthOf(words) / 2 + 12;
    putLabel(record.place, [words], widthOf(words), 15, "", [[0, 19], [0, -19], [beside, 0], [-beside, 0]]);
  }
}
// Where stations stand close on the screen they are drawn smaller, whatever part of them is in view.
const ROOM_A_SIGN_PX2 = 4000;
let small = false;
function sizeSigns() {
  const { x, y } = map.latLngToContainerPoint(field.getSouthEast()).subtract(map.latLngToContainerPoint(field.getNorthWest()));
  const crowded = data.stations.length * ROOM_A_SIGN_PX2 > x * y;
  if (crowded === small) return;
  small = crowded;
  stationLayer.eachLayer((sign) => sign.setRadius(crowded ? 3.5 : 6).setStyle({ weight: sign.options.fill === false && sign.options.color === "#fff" ? (crowded ? 3.5 : 5.5) : crowded ? 1.5 : 2.2 }));
}

function layLabels() {
  sizeSigns();
  labelLayer.clearLayers();
  // The corners that hold the zoom buttons, the scale and the mark of north stay free.
  const { x: width, y: height } = map.getSize();
  taken = [{ x: 0, y: 0, w: 66, h: 110 }, { x: 0, y: height - 40, w: 180, h: 40 }, { x: 0, y: height - 96, w: 46, h: 56 }];
  const assumed = document.querySelector(".frame .assumed");
  if (assumed) taken.push({ x: width - assumed.offsetWidth - 12, y: height - assumed.offsetHeight - 12, w: assumed.offsetWidth + 12, h: assumed.offsetHeight + 12 });
  const pointsOf = { stations: () => data.stations, before: () => pitsOf("before"), after: () => pitsOf("after") };
  signs = Object.keys(pointsOf).filter((name) => shown.has(name)).flatMap((name) => pointsOf[name]()).map((record) => {
    const at = map.latLngToContainerPoint(record.place);
    const half = record.pit ? 10 : small ? 5 : 8;
    return { x: at.x - half, y: at.y - half, w: 2 * half, h: 2 * half, pit: Boolean(record.pit) };
  });
  // No label, of whatever kind, covers the sign of a gateway or of a hazard that is a point.
  const bare = [...(shown.has("gateways") ? data.gateways : []), ...(shown.has("hazards") ? data.hazards.flatMap((hazard) => hazard.points) : [])];
  for (const point of bare) {
    const at = map.latLngToContainerPoint(placeOf(point));
    signs.push({ x: at.x - 10, y: at.y - 10, w: 20, h: 20, pit: true });
  }
  if (shown.has("hazards")) labelHazards();
  if (shown.has("guessed")) for (const part of guessedParts) putLabel(part.place, ["GUESSED"], widthOf("GUESSED"), 19, "boxed", about(0, 22));
  if (shown.has("passes")) labelChanges();
  if (shown.has("parts")) for (const part of data.parts) putLabel(part.place, [part.part], widthOf(part.part), 19, "boxed", about(0, 22));
  labelGaps(metresAPixel());
  if (ground === "depth") labelZones(metresAPixel());
  if (shown.has("unread")) unread.forEach(labelUnread);
  if (shown.has("passes")) labelPasses();
  if (map.getZoom() < 18) return;
  if (shown.has("before")) labelPoints(pitsOf("before"), (pit) => pit.pit);
  if (shown.has("after")) labelPoints(pitsOf("after"), (pit) => pit.pit);
  if (shown.has("stations")) labelPoints(data.stations, (one) => one.station);
}
