// Area of a drawn outline on the WGS 84 ellipsoid.
//
// Equal-area cylinder of the ellipsoid (Snyder, Map projections: a working manual, USGS PP 1395,
// 1987, equations 3-12 and 10-13 to 10-15): dA = a^2/2 dq dlon, exact for any outline whose edges
// are straight in it. An edge of 1 km strays from the shortest line by less than 0.1 m.

const AXIS_M = 6378137;
const SQUARED = 0.0066943799901413165; // first eccentricity squared of WGS 84

const radians = (deg) => (deg * Math.PI) / 180;
function authalicQ(latDeg) {
  const e = Math.sqrt(SQUARED);
  const s = Math.sin(radians(latDeg));
  return (1 - SQUARED) * (s / (1 - SQUARED * s * s) + Math.atanh(e * s) / e);
}

function areaHa(places) {
  const [lat0, lon0] = places[0] || [0, 0];
  const q0 = authalicQ(lat0);
  const xy = places.map(([lat, lon]) => [radians(lon - lon0), authalicQ(lat) - q0]);
  let twice = 0;
  xy.forEach(([x, q], i) => {
    const [nextX, nextQ] = xy[(i + 1) % xy.length];
    twice += x * nextQ - nextX * q;
  });
  return (Math.abs(twice) * AXIS_M * AXIS_M) / 4 / 1e4;
}

function stepM([latA, lonA], [latB, lonB]) {
  const middle = radians((latA + latB) / 2);
  const w = 1 - SQUARED * Math.sin(middle) ** 2;
  const north = (radians(latB - latA) * AXIS_M * (1 - SQUARED)) / w ** 1.5;
  const east = (radians(lonB - lonA) * AXIS_M * Math.cos(middle)) / Math.sqrt(w);
  return Math.hypot(north, east);
}
const lengthM = (places) => places.slice(1).reduce((sum, place, i) => sum + stepM(places[i], place), 0);

// Whether two edges of the outline cross; neighbours share a corner and do not count.
function crossesItself(places) {
  const side = ([y0, x0], [y1, x1], [y, x]) => Math.sign((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0));
  const edges = places.map((place, i) => [place, places[(i + 1) % places.length]]);
  return edges.some(([a, b], i) => edges.some(([c, d], j) =>
    j > i + 1 && !(i === 0 && j === edges.length - 1) && side(a, b, c) !== side(a, b, d) && side(c, d, a) !== side(c, d, b)));
}

const told = document.getElementById("told");
const measureButton = document.getElementById("measure");
const undoButton = document.getElementById("undo");
const cross = document.getElementById("cross");
let corners = null;
const KEYS = matchMedia("(hover: hover) and (pointer: fine)").matches; // otherwise hardly a keyboard
const measureLayer = L.layerGroup().addTo(map);
const measureRenderer = svgIn("measure");

function tellArea() {
  measureLayer.clearLayers();
  const drawn = still("measure", { renderer: measureRenderer, color: "#c2290a", weight: 4, fillColor: "#fff", fillOpacity: 0.35 });
  if (corners.length > 1) L[corners.length > 2 ? "polygon" : "polyline"](corners, drawn).addTo(measureLayer);
  for (const corner of corners) L.circleMarker(corner, still("measure", { renderer: measureRenderer, radius: 5, color: "#c2290a", weight: 3, fillColor: "#fff", fillOpacity: 1 })).addTo(measureLayer);
  undoButton.hidden = corners.length === 0;
  if (corners.length < 2) told.textContent = `Press the corners of the area on the map.${KEYS ? " With keys: move the map under the cross, Enter sets a corner, Backspace takes one back, Escape ends." : ""}`;
  else if (corners.length === 2) told.textContent = `Length ${number(lengthM(corners), 1)} m.`;
  else if (crossesItself(corners)) told.textContent = "The outline crosses itself: take corners back until it does not.";
  else told.textContent = `Area ${number(areaHa(corners), 3)} ha, outline ${number(lengthM([...corners, corners[0]]), 1)} m, ${corners.length} corners. As exact as the corners are set.`;
}
function addCorner(latlng) { corners.push([latlng.lat, latlng.lng]); tellArea(); }
function undoCorner() { if (corners?.length) { corners.pop(); tellArea(); } }
function measuring(on) {
  corners = on ? [] : null;
  measureButton.setAttribute("aria-pressed", String(on));
  measureButton.textContent = on ? "End measuring" : "Measure";
  document.getElementById("map").classList.toggle("measuring", on);
  measureLayer.clearLayers();
  undoButton.hidden = true;
  cross.hidden = true;
  told.textContent = "";
  if (on) { closeDetail(); tellArea(); }
}
