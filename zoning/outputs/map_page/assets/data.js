"use strict";
// The data of the plan, and places turned back into latitude and longitude.

document.body.classList.remove("plain");
const data = JSON.parse(document.getElementById("plan-data").textContent);

const placeOf = ([east, north]) => [
  data.origin[1] + north / data.steps_a_degree,
  data.origin[0] + east / data.steps_a_degree,
];

function runOf(moves) {
  const places = [];
  let east = 0;
  let north = 0;
  for (let i = 0; i < moves.length; i += 2) {
    east += moves[i];
    north += moves[i + 1];
    places.push(placeOf([east, north]));
  }
  return places;
}

const areasOf = (polygons) => polygons.map((rings) => rings.map(runOf));

function insideRing(place, ring) {
  const [lat, lon] = place;
  let inside = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [latA, lonA] = ring[i];
    const [latB, lonB] = ring[j];
    if (latA > lat !== latB > lat && lon < ((lonB - lonA) * (lat - latA)) / (latB - latA) + lonA) {
      inside = !inside;
    }
  }
  return inside;
}

const inside = (place, areas) =>
  areas.some(([outer, ...holes]) => insideRing(place, outer) && !holes.some((hole) => insideRing(place, hole)));

// Metres east and north of a place.
const METRES_A_DEGREE = 111320;
function flatFrom([lat, lon]) {
  const shrink = Math.cos((lat * Math.PI) / 180);
  return ([northward, eastward]) => L.point((eastward - lon) * shrink, northward - lat).multiplyBy(METRES_A_DEGREE);
}
const HERE = L.point(0, 0);
// Metres from a place to the nearest of some rings.
function metresToRings(place, rings) {
  const flat = flatFrom(place);
  let least = Infinity;
  for (const ring of rings) {
    let before = flat(ring[ring.length - 1]);
    for (const corner of ring.map(flat)) {
      least = Math.min(least, L.LineUtil.pointToSegmentDistance(HERE, before, corner));
      before = corner;
    }
  }
  return least;
}
// Metres from a place to the nearest edge of areas, 0 inside them.
const metresFrom = (place, areas) => (inside(place, areas) ? 0 : metresToRings(place, areas.flat()));

for (const hazard of data.hazards) hazard.keepOff = areasOf(hazard.keep_off);
for (const kind of ["zones", "parts", "unsure"]) {
  for (const record of data[kind]) record.areas = areasOf(record.shape);
}
for (const kind of ["zones", "parts", "stations", "pits", "gaps"]) {
  for (const record of data[kind]) record.place = placeOf(record.at);
}
// Cone indices: two digits of base 64 a reading, in whole steps; dots where it is blank.
const DIGITS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
const coneOf = (letters) => (letters.match(/../g) || []).map((pair) =>
  (pair === ".." ? null : (DIGITS.indexOf(pair[0]) * DIGITS.length + DIGITS.indexOf(pair[1])) / data.cone_steps_a_mpa));
for (const station of data.stations) {
  for (const one of station.insertions) one.mpa = coneOf(one.cone);
}
const zoneNumbered = new Map(data.zones.map((zone) => [zone.zone, zone]));
const inField = areasOf(data.outline);
// Gaps: ground inside the boundary that is none of the field, such as a pond.
const outerRings = inField.map(([outer]) => outer);
const gapRings = inField.flatMap(([, ...gaps]) => gaps);
const GAP_LIMIT = "lift and turn before it";
const GAP_NAME = "not in the field";
const GAP = `${GAP_NAME}: ${GAP_LIMIT}`;
const inGap = (place) => !inside(place, inField) && gapRings.some((ring) => insideRing(place, ring));
// Which edges of the field a position may be near to: said as far off as each may be.
function edgesNear(place, aboutM) {
  const named = [["edge of the field", outerRings, ""], ["a gap in the field", gapRings, `: ${GAP_LIMIT}`]];
  return named.map(([name, rings, then]) => ({ name, then, m: metresToRings(place, rings) }))
    .filter(({ m }) => m <= aboutM + data.plan.edge_told_m)
    .map(({ name, then, m }) => `${name} within ${number(Math.ceil(m + aboutM), 0)} m${then}`);
}
// Passes: the one that a place lies on, with the metres from its start.
for (const pass of data.passes) {
  pass.lines = pass.runs.map(([, line]) => runOf(line));
  pass.out = pass.runs.every(([depth]) => depth === 0); // no leg is lowered all along it
}
function passAt(place) {
  const flat = flatFrom(place);
  let best = null;
  for (const pass of data.passes) {
    let along = 0;
    for (const line of pass.lines) {
      const points = line.map(flat);
      for (let i = 1; i < points.length; i += 1) {
        const [a, b] = [points[i - 1], points[i]];
        const m = L.LineUtil.pointToSegmentDistance(HERE, a, b);
        if (m <= data.plan.width_m / 2 + data.plan.beside_pass_m && (!best || m < best.m)) {
          best = { pass, m, fromM: along + a.distanceTo(L.LineUtil.closestPointOnSegment(HERE, a, b)) };
        }
        along += a.distanceTo(b);
      }
    }
  }
  return best;
}
const LEFT_OUT = "lifted all the way: leave it out";
function passWords(place) {
  const found = passAt(place);
  if (!found) return "";
  const { pass, fromM } = found;
  return `${pass.pass} of ${data.passes.length}, ${pass.out ? LEFT_OUT : `${Math.round(fromM)} m from its start`}`;
}
// The zone of a place. On the very edge of two, where rounding leaves a gap or an overlap, that is
// the less deep of them.
const leastDeep = (zones) => zones.reduce((a, b) => (a && a.depth_cm <= b.depth_cm ? a : b), undefined);
function zoneAt(place) {
  const over = data.zones.filter((zone) => inside(place, zone.areas));
  if (over.length || !inside(place, inField)) return leastDeep(over);
  const away = data.zones.map((zone) => ({ zone, m: metresFrom(place, zone.areas) })).filter(({ m }) => m <= data.plan.between_zones_m);
  const least = Math.min(...away.map(({ m }) => m));
  return leastDeep(away.filter(({ m }) => m <= least + data.edge_m).map(({ zone }) => zone));
}
