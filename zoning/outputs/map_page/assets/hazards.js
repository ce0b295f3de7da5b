// Words on hazards at a place, and about a position that is known to so many metres.

const keepOffAt = (place) => data.hazards.filter((hazard) => inside(place, hazard.keepOff));
// Hazards whose strips a position known to so many metres may be in or come into, the nearest first;
// drains where the depth there is more than they allow. A rougher position never leaves one out.
function hazardsAbout(place, zone, aboutM) {
  const reachM = aboutM + (tooRough(aboutM) ? data.plan.reach_m : data.plan.edge_told_m);
  const counts = (hazard) => isStrict(hazard) || !zone || zone.depth_cm > hazard.most.depth_cm;
  return byDistance(data.hazards.filter(counts), place).filter(({ m }) => m <= reachM);
}
// Many are told by their tags alone.
const namesOf = (held) => held.map(({ hazard }) => hazard[held.length > 2 ? "tag" : "called"]);
const upper = (words) => words.replace(/^[a-z]/, (letter) => letter.toUpperCase());
const awayOf = (held) => `${number(Math.max(1, held[0].m), 0)} m away`;
function offAbout(near, aboutM) {
  const told = (held, where) => (held.length ? `${upper(keepOff(namesOf(held)))}: ${where(held.length > 1 ? "their" : "its")}` : "");
  const [on, beside] = [near.filter(({ m }) => m <= aboutM), near.filter(({ m }) => m > aboutM)];
  return [told(on, (whose) => `you may be in ${whose} keep-off`), told(beside, (whose) => `${whose} keep-off begins ${awayOf(beside)}`)].filter(Boolean).join(". ");
}
// Drains of one limit together; the limit is a depth, of which a position too rough tells none.
function drainsAbout(near, aboutM) {
  const limits = [...new Set(near.map(({ hazard }) => allowedWords(hazard)))];
  return limits.map((limit) => {
    const held = near.filter(({ hazard }) => allowedWords(hazard) === limit);
    const where = held[0].m > aboutM ? `from ${awayOf(held)} on` : `you may be over ${held.length > 1 ? "them" : "it"}`;
    return `${namesOf(held).join(" and ")}: ${tooRough(aboutM) ? "" : `${limit}, `}${where}`;
  });
}
// What of hazards is told at a place, and of those about a position known to so many metres: first
// what is to be kept off, there, near by or since the legs are lifted for it, then the drains,
// without their depth where the legs are up anyway.
function keepOffWords(place, zone, aboutM = null) {
  const here = keepOffAt(place);
  const strict = here.filter(isStrict).map((hazard) => `KEEP OFF ${hazard.called}: ${allowedWords(hazard)}${hazard.kind === "service" ? ", no spade or probe" : ""}`);
  const near = aboutM === null ? [] : hazardsAbout(place, zone, aboutM).filter(({ hazard }) => !here.includes(hazard));
  const [off, over] = [near.filter(({ hazard }) => isStrict(hazard)), near.filter(({ hazard }) => !isStrict(hazard))];
  const named = [...here, ...near.map(({ hazard }) => hazard)];
  const lifted = zone ? keptOffAbout(zone, place, Math.min(aboutM || 0, ROUGH_M)).filter((hazard) => !named.includes(hazard)) : [];
  const drains = here.filter((hazard) => !isStrict(hazard)).map((hazard) => hazard.called + (zone?.depth_cm === 0 ? "" : `: ${allowedWords(hazard)}`));
  return [...strict, offAbout(off, aboutM), upper(keepOff(lifted.map((hazard) => hazard.called))), ...drains, ...drainsAbout(over, aboutM)].filter(Boolean).join(". ");
}
