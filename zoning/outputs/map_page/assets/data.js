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

// Metres from a place to the nearest edge of areas, 0 inside them.
const METRES_A_DEGREE = 111320;
function metresFrom(place, areas) {
  if (inside(place, areas)) return 0;
  const [lat, lon] = place;
  const shrink = Math.cos((lat * Math.PI) / 180);
  const flat = ([northward, eastward]) => L.point((eastward - lon) * shrink, northward - lat).multiplyBy(METRES_A_DEGREE);
  const here = L.point(0, 0);
  let least = Infinity;
  for (const ring of areas.flat()) {
    let before = flat(ring[ring.length - 1]);
    for (const corner of ring.map(flat)) {
      least = Math.min(least, L.LineUtil.pointToSegmentDistance(here, before, corner));
      before = corner;
    }
  }
  return least;
}

for (const hazard of data.hazards) hazard.keepOff = areasOf(hazard.keep_off);
for (const kind of ["zones", "parts", "unsure"]) {
  for (const record of data[kind]) record.areas = areasOf(record.shape);
}
for (const kind of ["zones", "parts", "stations", "pits"]) {
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
// The zone of a place. On the very edge of two, where rounding leaves a gap or an overlap, that is
// the less deep of them.
const GAP_M = 0.5;
const leastDeep = (zones) => zones.reduce((a, b) => (a && a.depth_cm <= b.depth_cm ? a : b), undefined);
function zoneAt(place) {
  const over = data.zones.filter((zone) => inside(place, zone.areas));
  if (over.length || !inside(place, inField)) return leastDeep(over);
  const away = data.zones.map((zone) => ({ zone, m: metresFrom(place, zone.areas) })).filter(({ m }) => m <= GAP_M);
  const least = Math.min(...away.map(({ m }) => m));
  return leastDeep(away.filter(({ m }) => m <= least + data.edge_m).map(({ zone }) => zone));
}
