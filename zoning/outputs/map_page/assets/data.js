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
const zoneAt = (place) => data.zones.find((zone) => inside(place, zone.areas));
