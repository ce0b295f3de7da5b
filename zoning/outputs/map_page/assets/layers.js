// The map itself: panes, layers, labels, legend.

const CHART_ZOOM_MOST = 22;
const LABELS_OF_PASSES_FROM = 19;

const map = L.map("map", {
  zoomControl: false, attributionControl: false, maxZoom: CHART_ZOOM_MOST, zoomSnap: 0.25, zoomDelta: 0.75,
  keyboardPanDelta: 100, wheelPxPerZoomLevel: 110, doubleClickZoom: false, fadeAnimation: false,
  zoomAnimation: false, markerZoomAnimation: false,
});
L.control.zoom({ position: "topleft", zoomInTitle: "Zoom in", zoomOutTitle: "Zoom out" }).addTo(map);
L.control.scale({ imperial: false, maxWidth: 160 }).addTo(map);

const field = L.latLngBounds(areasOf(data.outline).flat(2));
map.fitBounds(field, { padding: [14, 14], animate: false });
map.setMinZoom(map.getZoom() - 3);

const PANES = ["backdrop", "surface", "zones", "parts", "unsure", "keep-off", "passes", "hazards", "points", "labels", "measure", "position"];
PANES.forEach((name, rank) => {
  const pane = map.createPane(name);
  pane.style.zIndex = String(300 + 10 * rank);
  if (name !== "zones") pane.style.pointerEvents = "none";
});
const svgIn = (pane) => L.svg({ pane, padding: 0.4 });
const still = (pane, more) => ({ pane, interactive: false, keyboard: false, ...more });

// Zones: shapes that can be reached by key, one stop, arrows from one to the next.
const zoneRenderer = svgIn("zones");
const zoneFill = (zone) => (zone.depth_cm > 0 ? zone.tone : "url(#lifted)");
for (const zone of data.zones) {
  zone.layer = L.polygon(zone.areas, {
    renderer: zoneRenderer, pane: "zones", className: "zone", color: "#111", weight: 1, fillColor: zoneFill(zone), fillOpacity: 1,
  }).addTo(map);
}
L.polygon(areasOf(data.outline), still("zones", { renderer: zoneRenderer, color: "#000", weight: 3, fill: false })).addTo(map);

function zoneName(zone) {
  return `Zone ${zone.zone}: ${setWords(zone)}, ${number(zone.area_ha, 2)} hectares, ${zone.parts}` +
    (isHeld(zone) ? `, ${HELD}` : "");
}

let zoneStop = 0;
function stopAt(index, focus) {
  const shapes = data.zones.map((zone) => zone.layer.getElement());
  shapes[zoneStop].setAttribute("tabindex", "-1");
  zoneStop = (index + shapes.length) % shapes.length;
  shapes[zoneStop].setAttribute("tabindex", "0");
  if (!focus) return;
  const bounds = data.zones[zoneStop].layer.getBounds();
  if (!map.getBounds().contains(bounds.getCenter())) map.panTo(bounds.getCenter(), { animate: false });
  shapes[zoneStop].focus({ preventScroll: true });
}

function reachZonesByKey() {
  const steps = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };
  data.zones.forEach((zone, index) => {
    const shape = zone.layer.getElement();
    fill(shape, { tabindex: index ? "-1" : "0", role: "button", "aria-label": zoneName(zone) }, []);
    shape.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") openZone(zone, shape);
      else if (event.key in steps) stopAt(index + steps[event.key], true);
      else if (event.key === "Home") stopAt(0, true);
      else if (event.key === "End") stopAt(data.zones.length - 1, true);
      else return;
      event.preventDefault();
      event.stopPropagation();
    });
  });
}

// Points: each verdict a shape of its own.
const Sign = L.CircleMarker.extend({
  _updatePath() {
    const { x, y } = this._point;
    this._renderer._setPath(this, signPath(this.options.sign, x, y, this._radius));
  },
});
const pointRenderer = svgIn("points");
function signLayers(place, sign, hollow, radius) {
  const shared = { sign, radius, renderer: pointRenderer };
  return [
    new Sign(place, still("points", { ...shared, color: "#fff", weight: 5.5, fill: false })),
    new Sign(place, still("points", { ...shared, color: "#000", weight: 2.2, fillColor: signFill(sign, hollow), fillOpacity: 1, fill: signFill(sign, hollow) !== "none" })),
  ];
}
const grouped = (records, layers) => L.layerGroup(records.flatMap(layers));
const stationLayer = grouped(data.stations, (one) => signLayers(one.place, one.verdict, one.verdict === "no_pan", 6));
const pitsOf = (phase) => data.pits.filter((pit) => (pit.phase === "after") === (phase === "after"));
const pitLayer = (phase) => grouped(pitsOf(phase), (pit) => signLayers(pit.place, phase, phase === "after" || pit.pan !== "yes", 6.5));

// Passes: from afar hairlines that let the depths through, light on dark ground and dark on light;
// from near by cased lines, a dot where the depth changes and still nearer both depths, since every
// other pass is driven back.
const PASSES_NEAR_FROM_PX = 9;
const passRenderer = L.canvas({ pane: "passes", padding: 0.3 });
const passLine = (run, color, weight, opacity = 1) => L.polyline(run, still("passes", { renderer: passRenderer, color, weight, opacity }));
const runsDriven = () => data.passes.flatMap((pass) => pass.runs.map(([depth, line]) => ({ depth, line: runOf(line) })));
const changes = data.changes.map(([east, north, pass, fromM, before, after]) => ({ place: placeOf([east, north]), pass, fromM, before, after }));
const toneOf = new Map(data.zones.map((zone) => [zone.depth_cm, zone.tone || "#ffffff"]));
function passesFar() {
  const stroke = ({ depth }) => (isDark(toneOf.get(depth) || "#ffffff") ? ["#fff", 0.5] : ["#000", 0.35]);
  return runsDriven().map((run) => passLine(run.line, stroke(run)[0], 0.8, stroke(run)[1]));
}
function passesNear() {
  const runs = runsDriven().map(({ line }) => line);
  const dot = (change) => L.circleMarker(change.place, still("passes", { renderer: passRenderer, radius: 3, color: "#000", weight: 1.2, fillColor: "#fff", fillOpacity: 1 }));
  return [...runs.map((run) => passLine(run, "#000", 2.6)), ...runs.map((run) => passLine(run, "#fff", 1.1)), ...changes.map(dot)];
}
const passGroup = L.layerGroup();
const passKinds = {};
const passesAreNear = () => data.plan.width_m / metresAPixel() >= PASSES_NEAR_FROM_PX;
function layPasses() {
  const [kind, make] = passesAreNear() ? ["near", passesNear] : ["far", passesFar];
  const wanted = (passKinds[kind] ||= L.layerGroup(make()));
  if (passGroup.hasLayer(wanted)) return;
  passGroup.clearLayers().addLayer(wanted);
}
function passLayer() { layPasses(); return passGroup; }

const hazardRenderer = svgIn("hazards");
function hazardLayers(hazard) {
  const lines = hazard.lines.map(runOf);
  const areas = areasOf(hazard.areas);
  const line = (color, weight, dashArray) => L.polyline(lines, still("hazards", { renderer: hazardRenderer, color, weight, dashArray, lineCap: "butt" }));
  const marks = hazard.points.map((point) => new Sign(placeOf(point), still("hazards", { renderer: hazardRenderer, sign: "base_not_reached", radius: 8, color: "#000", weight: 2, fillColor: "#fff", fillOpacity: 1 })));
  const keepOff = L.polygon(hazard.keepOff, still("keep-off", { renderer: keepOffRenderer, color: "#000", weight: 1.2, fillColor: "url(#keep-off)", fillOpacity: 1 }));
  const ground = areas.length ? [L.polygon(areas, still("hazards", { renderer: hazardRenderer, color: "#000", weight: 2.5, fill: false }))] : [];
  const strokes = hazard.kind === "drain" ? [line("#fff", 7), line("#000", 4, "11 7")] : [line("#fff", 7), line("#000", 3), line("#000", 9, "2 10")];
  return [keepOff, ...(lines.length ? strokes : []), ...ground, ...marks];
}
const keepOffRenderer = svgIn("keep-off");
const partRenderer = svgIn("parts");
const partLayer = () => L.layerGroup(data.parts.map((part) => L.polygon(part.areas, still("parts", { renderer: partRenderer, color: "#fff", weight: 4, fill: false })))
  .concat(data.parts.map((part) => L.polygon(part.areas, still("parts", { renderer: partRenderer, color: "#000", weight: 1.6, dashArray: "8 4", fill: false })))));
const unsureRenderer = svgIn("unsure");
const unsureLayer = () => grouped(data.unsure, (place) => [L.polygon(place.areas, still("unsure", { renderer: unsureRenderer, color: "#000", weight: 2, dashArray: "2 4", fillColor: "url(#unsure)", fillOpacity: 1 }))]);
const backdropLayer = () => L.imageOverlay(data.backdrop.picture, data.backdrop.bounds, { pane: "backdrop", alt: "" });

// What can be drawn on top, in the order of the list, with its sign for the legend.
const pair = (words, ...icons) => ({ words, icons });
const verdictsShown = [...new Set(data.stations.map((one) => one.verdict))].sort();
const HAZARD_STROKES = { drain: [{ stroke: "#000", "stroke-width": 4, "stroke-dasharray": "9 5" }], service: [{ stroke: "#000", "stroke-width": 3 }, { stroke: "#000", "stroke-width": 9, "stroke-dasharray": "2 8" }] };
const hazardIcon = (hazard) => (hazard.lines.length ? strokeIcon(...(HAZARD_STROKES[hazard.kind] || HAZARD_STROKES.service)) : signIcon("base_not_reached", true));
const allowedWords = (hazard) => (hazard.allowed_cm > 0 ? `no deeper than ${short(hazard.allowed_cm, 1)} cm` : "legs lifted out");
const hazardCalled = (hazard) => `${hazard.tag} ${hazard.kind}${hazard.name ? `, ${hazard.name}` : ""}`;
function hazardWords(hazard) {
  const cover = known(hazard.depth_cm) ? `cover ${short(hazard.depth_cm, 1)} cm` : "cover not known";
  return `${hazardCalled(hazard)}${hazard.count > 1 ? ` (${hazard.count})` : ""}: ${cover}; ${allowedWords(hazard)} within ${short(hazard.clear_m, 1)} m each side${hazard.clear_given ? "" : " (assumed)"}`;
}
const OVERLAYS = [
  { name: "hazards", title: "Hazards and keep-off", on: true, count: data.hazards.length, none: "none declared", build: () => grouped(data.hazards, hazardLayers), sub: data.hazards.map((hazard) => pair(hazardWords(hazard), hazardIcon(hazard))) },
  { name: "stations", title: "Stations", on: true, count: data.stations.length, build: () => stationLayer, sub: verdictsShown.map((verdict) => pair(verdictWords(verdict), signIcon(verdict, verdict === "no_pan"))) },
  { name: "before", title: "Pits before the work", on: true, count: pitsOf("before").length, build: () => pitLayer("before"), sub: [pair("with a pan", signIcon("before")), pair("without, or not looked for", signIcon("before", true))] },
  { name: "after", title: "Pits after the work", on: true, count: pitsOf("after").length, none: "none dug yet", build: () => pitLayer("after"), sub: [pair("after the work; judged by the check, not here", signIcon("after", true))] },
  { name: "passes", title: "Passes", on: false, count: data.passes.length, build: passLayer, sub: [pair("a pass", strokeIcon({ stroke: "#000", "stroke-width": 4 }, { stroke: "#fff", "stroke-width": 1.6 })), pair("from near by: the depth changes here (nearer still: both depths; passes are driven either way)", signIcon("no_pan", true))] },
  { name: "parts", title: "Parts of the field", on: false, count: data.parts.length, build: partLayer, sub: data.parts.map((part) => pair(`${part.part}, ${number(part.area_ha, 2)} ha`)) },
  { name: "unsure", title: "Uncertain places", on: false, count: data.unsure.length, none: "none", build: unsureLayer, sub: [...new Set(data.unsure.map((one) => one.reason))].map((reason) => pair(reason, swatch("url(#unsure)"))) },
  ...(data.backdrop ? [{ name: "backdrop", title: "Picture from above", on: true, count: null, build: backdropLayer, sub: [pair(data.backdrop.name)] }] : []),
];
const shown = new Set();
const overlay = (name) => OVERLAYS.find((one) => one.name === name);

function showOverlay(name, on) {
  const one = overlay(name);
  if (on) (one.layer ||= one.build()).addTo(map);
  else one.layer?.remove();
  one.list.hidden = !on;
  if (on) shown.add(name); else shown.delete(name);
  layLabels();
}

const keepOffAt = (place) => data.hazards.filter((hazard) => inside(place, hazard.keepOff));
const keepOffWords = (place) => {
  const near = keepOffAt(place);
  return near.map((hazard) => `${hazard.allowed_cm > 0 ? "" : "KEEP OFF "}${hazardCalled(hazard)}: ${allowedWords(hazard)}`).join(". ");
};

// Ground: working depth from the zones, the surfaces as pictures. A picture is made of whole cells:
// what of them lies past the boundary is clipped, each ring left and come back to over one line.
const inField = areasOf(data.outline);
function fieldWithin([[south, west], [north, east]]) {
  const corner = map.project([north, west], 20);
  const size = map.project([south, east], 20).subtract(corner);
  const share = (place) => {
    const at = map.project(place, 20).subtract(corner);
    return `${((100 * at.x) / size.x).toFixed(3)}% ${((100 * at.y) / size.y).toFixed(3)}%`;
  };
  const rings = inField.flat().map((ring) => [...ring, ring[0]]);
  return `polygon(evenodd, ${rings.flatMap((ring) => [...ring, rings[0][0]]).map(share).join(", ")})`;
}
let cover = 1;
let ground = "depth";
function showGround(name) {
  ground = name;
  for (const zone of data.zones) {
    zone.layer.setStyle({ fillOpacity: name === "depth" ? cover : 0, weight: name === "depth" ? 1 : 0.7 });
  }
  for (const surface of data.surfaces) {
    if (surface.name === name) {
      surface.layer ||= L.imageOverlay(surface.picture, surface.bounds, { pane: "surface", className: "surface-picture", alt: "" });
      surface.layer.addTo(map).setOpacity(cover);
      surface.layer.getElement().style.clipPath = fieldWithin(surface.bounds);
    } else surface.layer?.remove();
  }
  layKey();
  layLabels();
}

const keyLine = (icon, ...words) => make("li", {}, icon, make("span", {}, ...words));
function depthKey() {
  const depths = [...new Set(data.zones.map((zone) => zone.depth_cm))].sort((a, b) => a - b);
  return depths.map((depth) => {
    const zones = data.zones.filter((zone) => zone.depth_cm === depth);
    const area = zones.reduce((sum, zone) => sum + zone.area_ha, 0);
    const held = zones.some(isHeld) ? ", NC" : "";
    return keyLine(swatch(zoneFill(zones[0])), `${setWords(zones[0])}${held}, `, make("span", { class: "whole" }, `${number(area, 2)} ha`));
  });
}
function layKey() {
  const key = document.getElementById("key");
  const surface = data.surfaces.find((one) => one.name === ground);
  if (ground === "depth") {
    const held = data.zones.some(isHeld) ? make("p", {}, make("span", { class: "mark-label boxed not-cleared" }, "35"), ` white on black, or NC: ${HELD}`) : null;
    key.replaceChildren(...assumedNote(), make("ul", {}, ...depthKey()), make("p", {}, "Numbers on the map: working depth in cm."), ...(held ? [held] : []));
  } else if (surface) {
    key.replaceChildren(make("p", {}, surface.unit), make("ul", {}, ...surface.classes.map((one) => keyLine(swatch(one.tone), one.words))));
  } else key.replaceChildren(make("p", {}, "Zones as outlines only."));
}

// Class of a surface at a place, read from its own picture.
function readSurface(surface) {
  const image = new Image();
  image.onload = () => {
    const sheet = document.createElement("canvas");
    [sheet.width, sheet.height] = [image.naturalWidth, image.naturalHeight];
    const pen = sheet.getContext("2d", { willReadFrequently: true });
    pen.drawImage(image, 0, 0);
    surface.pen = pen;
  };
  image.src = surface.picture;
}
function surfaceWords(surface, latlng) {
  if (!surface.pen || !inside([latlng.lat, latlng.lng], inField)) return "";
  const corner = map.project(L.latLng(surface.bounds[1][0], surface.bounds[0][1]), 20);
  const foot = map.project(L.latLng(surface.bounds[0][0], surface.bounds[1][1]), 20);
  const at = map.project(latlng, 20).subtract(corner);
  const { width, height } = surface.pen.canvas;
  const x = Math.floor((at.x / (foot.x - corner.x)) * width);
  const y = Math.floor((at.y / (foot.y - corner.y)) * height);
  if (x < 0 || y < 0 || x >= width || y >= height) return "";
  const [r, g, b, a] = surface.pen.getImageData(x, y, 1, 1).data;
  if (a === 0) return "";
  const tone = `#${[r, g, b].map((part) => part.toString(16).padStart(2, "0")).join("")}`;
  const found = surface.classes.find((one) => one.tone === tone);
  return found ? `${surface.title}: ${found.words}` : "";
}

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
  const depth = zone.depth_cm > 0 ? short(zone.depth_cm, 1) : "lifted";
  // A label may leave the middle of its zone, not the zone.
  const middle = map.latLngToContainerPoint(place);
  if (zone.labels.some((other) => other.distanceTo(middle) < SAME_AGAIN_PX)) return;
  const within = (shift) => {
    const { lat, lng } = map.containerPointToLatLng(middle.add(shift));
    return shift.every((move) => move === 0) || inside([lat, lng], zone.areas);
  };
  const style = isHeld(zone) ? "boxed not-cleared" : "boxed";
  const on = (box) => liesOn(box, zone);
  const put = roomPx >= 30 && !zone.labels.length
    ? putLabel(place, [zone.depth_cm > 0 ? `${depth} cm` : "legs lifted", `zone ${zone.zone}${isHeld(zone) ? " NC" : ""}`], 78, 36, style, about(30, 22).filter(within), on)
    : putLabel(place, [depth], widthOf(depth), 19, style, [...about(roomPx * 0.7, roomPx * 0.7), ...about(roomPx * 1.3, roomPx * 1.3)].filter(within), on);
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
function labelHazards() {
  for (const hazard of data.hazards) {
    const line = hazard.lines.length ? runOf(hazard.lines[0]) : [];
    const place = line.length ? L.latLng((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2) : hazard.points.length ? L.latLng(placeOf(hazard.points[0])) : L.latLng(areasOf(hazard.areas)[0][0][0]);
    putLabel(place, [hazard.tag], widthOf(hazard.tag), 19, "boxed", about(26, 20));
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
  // The corners that hold the zoom buttons and the scale stay free.
  const { x: width, y: height } = map.getSize();
  taken = [{ x: 0, y: 0, w: 66, h: 110 }, { x: 0, y: height - 40, w: 180, h: 40 }];
  const assumed = document.querySelector(".frame .assumed");
  if (assumed) taken.push({ x: width - assumed.offsetWidth - 12, y: height - assumed.offsetHeight - 12, w: assumed.offsetWidth + 12, h: assumed.offsetHeight + 12 });
  const pointsOf = { stations: () => data.stations, before: () => pitsOf("before"), after: () => pitsOf("after") };
  signs = Object.keys(pointsOf).filter((name) => shown.has(name)).flatMap((name) => pointsOf[name]()).map((record) => {
    const at = map.latLngToContainerPoint(record.place);
    const half = record.pit ? 10 : small ? 5 : 8;
    return { x: at.x - half, y: at.y - half, w: 2 * half, h: 2 * half, pit: Boolean(record.pit) };
  });
  if (shown.has("hazards")) labelHazards();
  if (shown.has("passes")) labelChanges();
  if (shown.has("parts")) for (const part of data.parts) putLabel(part.place, [part.part], widthOf(part.part), 19, "boxed", about(0, 22));
  if (ground === "depth") labelZones(metresAPixel());
  if (map.getZoom() < 18) return;
  if (shown.has("before")) labelPoints(pitsOf("before"), (pit) => pit.pit);
  if (shown.has("after")) labelPoints(pitsOf("after"), (pit) => pit.pit);
  if (shown.has("stations")) labelPoints(data.stations, (one) => one.station);
}

function layChoices() {
  const surfaces = document.getElementById("surfaces");
  const grounds = [{ name: "depth", title: "Working depth" }, ...data.surfaces, { name: "none", title: "Outlines only" }];
  for (const one of grounds) {
    const input = make("input", { type: "radio", name: "ground", value: one.name, checked: one.name === "depth" });
    input.addEventListener("change", () => showGround(one.name));
    surfaces.append(make("label", { class: "choice" }, input, one.title));
  }
  const overlays = document.getElementById("overlays");
  for (const one of OVERLAYS) {
    const input = make("input", { type: "checkbox", name: one.name, checked: one.on && one.count !== 0, disabled: one.count === 0 });
    input.addEventListener("change", () => showOverlay(one.name, input.checked));
    const told = one.count === 0 ? one.none || "none" : one.count === null ? "" : `(${one.count})`;
    one.list = make("ul", { class: "sub" }, ...one.sub.map((sub) => make("li", {}, ...sub.icons, make("span", {}, sub.words))));
    overlays.append(make("label", { class: "choice" }, input, make("span", {}, `${one.title} `, told ? make("small", {}, told) : null)), one.list);
    one.list.hidden = true;
  }
  if (data.backdrop) layCover(overlays);
}
function layCover(overlays) {
  const slider = make("input", { type: "range", min: 0, max: 100, value: 60 });
  slider.addEventListener("input", () => { cover = Number(slider.value) / 100; showGround(ground); });
  cover = 0.6;
  overlays.append(make("label", { class: "choice" }, make("span", {}, "Cover over the picture"), slider));
}
