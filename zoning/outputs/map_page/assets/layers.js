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
// The map lies in the web map projection, whose meridians run straight up: north is up everywhere.
const northMark = L.control({ position: "bottomleft" });
northMark.onAdd = () => make("div", { class: "north", role: "img", "aria-label": "North is up" },
  draw("svg", { width: 26, height: 40, viewBox: "0 0 26 40", "aria-hidden": "true" },
    draw("path", { d: "M13 1L20 23L13 18L6 23Z", fill: "#000" }),
    draw("text", { x: 13, y: 38, "text-anchor": "middle", "font-size": 16, "font-weight": 700 }, "N")));
northMark.addTo(map);

const field = L.latLngBounds(areasOf(data.outline).flat(2));
map.fitBounds(field, { padding: [14, 14], animate: false });
map.setMinZoom(map.getZoom() - 3);

const PANES = ["backdrop", "surface", "zones", "unread", "guessed", "parts", "unsure", "keep-off", "passes", "hazards", "points", "labels", "measure", "position"];
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

function zoneName(zone, off = keepOffOf(zone)) {
  return `Zone ${zone.zone}: ${setWords(zone, off)}, ${zone.shown.area_ha} hectares, ${partsWords(zone)}` +
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
const runsOf = () => data.passes.flatMap((pass) => pass.runs.map(([depth], i) => ({ depth, out: pass.out, line: pass.lines[i] })));
const changes = data.changes.map(([east, north, pass, fromM, before, after]) => ({ place: placeOf([east, north]), pass, fromM, before, after }));
const toneOf = new Map(data.zones.map((zone) => [zone.depth_cm, zone.tone || "#ffffff"]));
function passesFar() {
  const stroke = ({ depth }) => (isDark(toneOf.get(depth) || "#ffffff") ? ["#fff", 0.5] : ["#000", 0.35]);
  return runsOf().map((run) => passLine(run.line, stroke(run)[0], 0.8, stroke(run)[1]));
}
function passesNear() {
  const runs = runsOf().filter(({ out }) => !out).map(({ line }) => line);
  const out = runsOf().filter((run) => run.out).map(({ line }) => L.polyline(line, still("passes", { renderer: passRenderer, color: "#000", weight: 1.6, dashArray: "3 7" })));
  const dot = (change) => L.circleMarker(change.place, still("passes", { renderer: passRenderer, radius: 3, color: "#000", weight: 1.2, fillColor: "#fff", fillOpacity: 1 }));
  return [...runs.map((run) => passLine(run, "#000", 2.6)), ...runs.map((run) => passLine(run, "#fff", 1.1)), ...out, ...changes.map(dot)];
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
  const marks = hazard.points.map((point) => new Sign(placeOf(point), still("hazards", { renderer: hazardRenderer, sign: `${hazard.kind}_point`, radius: 8, color: "#000", weight: 2, fillColor: "#fff", fillOpacity: 1 })));
  const keepOff = L.polygon(hazard.keepOff, still("keep-off", { renderer: keepOffRenderer, color: "#000", weight: 1.2, fillColor: "url(#keep-off)", fillOpacity: 1 }));
  const ground = areas.length ? [L.polygon(areas, still("hazards", { renderer: hazardRenderer, color: "#000", weight: 2.5, fill: false }))] : [];
  const strokes = { drain: [["#000", 4, "11 7"]], service: [["#000", 3], ["#000", 9, "2 10"]], obstacle: [["#000", 3]] }[hazard.kind].map((stroke) => line(...stroke));
  return [keepOff, ...(lines.length ? [line("#fff", 7), ...strokes] : []), ...ground, ...marks];
}
const keepOffRenderer = svgIn("keep-off");
const partRenderer = svgIn("parts");
const partLayer = () => L.layerGroup(data.parts.map((part) => L.polygon(part.areas, still("parts", { renderer: partRenderer, color: "#fff", weight: 4, fill: false })))
  .concat(data.parts.map((part) => L.polygon(part.areas, still("parts", { renderer: partRenderer, color: "#000", weight: 1.6, dashArray: "8 4", fill: false })))));
const guessedRenderer = svgIn("guessed");
const guessedLayer = () => grouped(guessedParts, (part) => [L.polygon(part.areas, still("guessed", { renderer: guessedRenderer, color: "#000", weight: 2.5, dashArray: "6 3", fillColor: "url(#guessed)", fillOpacity: 1 }))]);
const unsureRenderer = svgIn("unsure");
const unreadRenderer = svgIn("unread");
const unreadLayer = () => grouped(unread, (place) => [L.polygon(place.areas, still("unread", { renderer: unreadRenderer, color: "#000", weight: 1.5, dashArray: "2 5", fillColor: "url(#unread)", fillOpacity: 1 }))]);
const unsure = data.unsure.filter((one) => !one.unread);
const unsureLayer = () => grouped(unsure, (place) => [L.polygon(place.areas, still("unsure", { renderer: unsureRenderer, color: "#000", weight: 2, dashArray: "2 4", fillColor: "url(#unsure)", fillOpacity: 1 }))]);
// Gateways, with the sign of the sheet.
const gatewayIcon = () => draw("svg", { width: 26, height: 22, "aria-hidden": "true" },
  draw("circle", { cx: 13, cy: 11, r: 9, fill: "#fff", stroke: "#000", "stroke-width": 2 }),
  draw("text", { x: 13, y: 15.5, "text-anchor": "middle", "font-size": 13, "font-weight": 700, fill: "#000" }, "G"));
const gatewayLayer = () => grouped(data.gateways, (at) => [L.marker(placeOf(at), still("points", { icon: L.divIcon({ className: "", html: gatewayIcon(), iconSize: [26, 22], iconAnchor: [13, 11] }) }))]);
const backdropLayer = () => L.imageOverlay(data.backdrop.picture, data.backdrop.bounds, { pane: "backdrop", alt: "" });

// What can be drawn on top, in the order of the list, with its sign for the legend.
const pair = (words, ...icons) => ({ words, icons });
const verdictsShown = [...new Set(data.stations.map((one) => one.verdict))].sort();
const HAZARD_STROKES = { drain: [{ stroke: "#000", "stroke-width": 4, "stroke-dasharray": "9 5" }], service: [{ stroke: "#000", "stroke-width": 3 }, { stroke: "#000", "stroke-width": 9, "stroke-dasharray": "2 8" }], obstacle: [{ stroke: "#000", "stroke-width": 3 }] };
const hazardIcons = (hazard) => [
  hazard.lines.length ? strokeIcon(...HAZARD_STROKES[hazard.kind]) : null,
  hazard.points.length ? signIcon(`${hazard.kind}_point`, true) : null,
  hazard.areas.length ? swatch("url(#keep-off)") : null,
].filter(Boolean);
const allowedWords = (hazard) => (hazard.allowed_cm > 0 ? `no deeper than ${short(hazard.allowed_cm, 1)} cm` : "legs lifted out");
function hazardWords(hazard) {
  const cover = known(hazard.depth_cm) ? `cover ${short(hazard.depth_cm, 1)} cm; ` : hazard.cover_not_known ? "cover not known; " : "";
  return `${hazard.called}: ${cover}${isStrict(hazard) ? "keep off, " : ""}${allowedWords(hazard)} within ${short(hazard.clear_m, 1)} m each side${hazard.clear_given ? "" : " (assumed)"}`;
}
// Numbers in a row told by the first and the last of them.
const leftOut = data.passes.filter((pass) => pass.out).map((pass) => pass.pass);
function inRanges(numbers) {
  const rows = [];
  for (const one of numbers) {
    if (rows.length && one === rows[rows.length - 1][1] + 1) rows[rows.length - 1][1] = one;
    else rows.push([one, one]);
  }
  return rows.map(([first, last]) => (first === last ? `${first}` : `${first} to ${last}`)).join(", ");
}
const OVERLAYS = [
  { name: "hazards", title: "Hazards and keep-off", on: true, count: data.hazards.length, none: "none declared", build: () => grouped(data.hazards, hazardLayers), sub: data.hazards.map((hazard) => pair(hazardWords(hazard), ...hazardIcons(hazard))) },
  ...(data.gateways.length ? [{ name: "gateways", title: "Gateways", on: true, count: data.gateways.length, build: gatewayLayer, sub: [pair("gateway", gatewayIcon())] }] : []),
  ...(guessedParts.length ? [{ name: "guessed", title: "Guessed ground", on: true, count: guessedParts.length, build: guessedLayer, sub: guessedParts.map((part) => pair(`${part.part}, ${part.area} ha: ${GUESSED_LIMIT}`, swatch("url(#guessed)"))) }] : []),
  ...(unread.length ? [{ name: "unread", title: "No station near", on: true, count: unread.length, build: unreadLayer, sub: [pair(`unread, none within ${short(data.plan.near_m, 1)} m: the depth rests on stations further off`, swatch("url(#unread)"))] }] : []),
  { name: "stations", title: "Stations", on: true, count: data.stations.length, build: () => stationLayer, sub: verdictsShown.map((verdict) => pair(verdictWords(verdict), signIcon(verdict, verdict === "no_pan"))) },
  { name: "before", title: "Pits before the work", on: true, count: pitsOf("before").length, build: () => pitLayer("before"), sub: [pair("with a pan", signIcon("before")), pair("without, or not looked for", signIcon("before", true))] },
  { name: "after", title: "Pits after the work", on: true, count: pitsOf("after").length, none: "none dug yet", build: () => pitLayer("after"), sub: [pair("after the work; judged by the check, not here", signIcon("after", true))] },
  { name: "passes", title: "Passes", on: false, count: data.passes.length, build: passLayer, sub: [pair("a pass (from near by: its number at both ends)", strokeIcon({ stroke: "#000", "stroke-width": 4 }, { stroke: "#fff", "stroke-width": 1.6 })), pair("from near by: the depth changes here (nearer still: both depths; passes are driven either way)", signIcon("no_pan", true)),
    ...(leftOut.length ? [pair(`lifted all the way, leave out: ${leftOut.length === 1 ? "pass" : "passes"} ${inRanges(leftOut)}`, strokeIcon({ stroke: "#000", "stroke-width": 1.6, "stroke-dasharray": "3 7" }))] : [])] },
  { name: "parts", title: "Parts of the field", on: false, count: data.parts.length, build: partLayer, sub: data.parts.map((part) => pair(`${part.part}, ${part.area} ha`)) },
  { name: "unsure", title: unread.length ? "Other uncertain places" : "Uncertain places", on: false, count: unsure.length, none: "none", build: unsureLayer, sub: [...new Set(unsure.map((one) => one.reason))].map((reason) => pair(reason, swatch("url(#unsure)"))) },
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

// Ground: working depth from the zones, the surfaces as pictures. A picture is made of whole cells:
// what of them lies past the boundary is clipped, each ring left and come back to over one line.
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
// Dots keep their edges where they can be seen singly; from afar, where the screen has no room for
// each, they are averaged: to leave some out would sprinkle the edges of narrow strips.
const DOT_SEEN_PX = 2;
function sharpenDots() {
  for (const { layer } of data.surfaces) {
    const picture = layer?.getElement();
    if (picture) picture.classList.toggle("sharp", picture.clientWidth >= DOT_SEEN_PX * picture.naturalWidth);
  }
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
      surface.layer ||= L.imageOverlay(surface.picture, surface.bounds, { pane: "surface", alt: "" }).on("load", sharpenDots);
      surface.layer.addTo(map).setOpacity(cover);
      surface.layer.getElement().style.clipPath = fieldWithin(surface.bounds);
    } else surface.layer?.remove();
  }
  layKey();
  layLabels();
}

const keyLine = (icon, ...words) => make("li", {}, icon, make("span", {}, ...words));
function depthKey() {
  return data.depth_areas.map(([depth, area]) => {
    const zones = data.zones.filter((zone) => zone.depth_cm === depth);
    const marks = [zones.some(keepsOff) ? ", keep off at hazards" : "", zones.some(isHeld) ? ", NC" : ""].join("");
    const set = [depthWords(depth), pinWords(zones[0])].filter(Boolean).join(", ");
    return keyLine(swatch(zoneFill(zones[0])), `${set}${marks}, `, make("span", { class: "whole" }, `${area} ha`));
  });
}
function layKey() {
  const key = document.getElementById("key");
  const surface = data.surfaces.find((one) => one.name === ground);
  if (ground === "depth") {
    const example = data.zones.find(isHeld);
    const held = example ? make("p", {}, make("span", { class: "mark-label boxed not-cleared" }, short(example.depth_cm, 1)), ` white on black, or NC: ${HELD}`) : null;
    key.replaceChildren(...assumedNote(), make("ul", {}, ...depthKey()), make("p", {}, `Numbers on the map: working depth in cm. Tones hold for this plan alone.${gapRings.length ? ` Without a tone (gap): ${GAP}.` : ""}`), ...(held ? [held] : []), digNote());
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
