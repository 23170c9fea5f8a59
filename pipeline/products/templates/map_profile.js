// The profile of a segment: height, grade and side slope over the chainage, with the worst point marked.
const PROFILE = { width: 400, left: 44, right: 10, strips: { z: [40, 130], grade: [156, 210], side: [236, 290] }, foot: 318 };

/** Round numbers that cut a span into at most about `wanted` parts. */
function niceStep(span, wanted) {
  const rough = span / wanted;
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((m) => m * power).find((step) => step >= rough * 0.999);
}

/** Draw the profile; `way` is 0 with and 1 against, `worstAt` the chainage of the worst point or null. */
function drawProfile(segment, way, worstAt, worstWords) {
  const data = profileOf(segment);
  const turned = way === 1 ? -1 : 1;
  const grade = data.grade.map((value) => (value === null ? null : value * turned));
  const side = data.side.map((value) => (value === null ? null : value * turned));
  const x = (at) => PROFILE.left + ((PROFILE.width - PROFILE.left - PROFILE.right) * at) / Math.max(data.length, 0.1);
  const picture = svg("svg", { viewBox: "0 0 " + PROFILE.width + " " + (PROFILE.foot + 30), role: "img", class: "profile" }, svg("title", {}, profileWords(data, way)));
  heightStrip(picture, data, x);
  slopeStrip(picture, "grade", "grade driven this way, °", data.at, grade, x);
  slopeStrip(picture, "side", "side slope, ° (+ rises to the right)", data.at, side, x);
  footing(picture, data, x, way);
  if (worstAt !== null) worstLine(picture, x(worstAt), worstWords);
  reader(picture, { segment, at: data.at, length: data.length, z: data.z, grade, side }, x);
  return picture;
}

function profileWords(data, way) {
  const known = data.z.filter((value) => value !== null);
  const span = known.length ? "heights from " + figure(Math.min(...known), 1) + " to " + figure(Math.max(...known), 1) + " m" : "no heights known";
  return "Profile over " + metres(data.length) + ", driven " + SITE.ways[way] + " the line; " + span;
}

function heightStrip(picture, data, x) {
  const [top, bottom] = PROFILE.strips.z;
  const known = data.z.filter((value) => value !== null);
  caption(picture, top - 8, "height, m");
  if (!known.length) {
    picture.append(svg("text", { x: 200, y: 70, "text-anchor": "middle" }, "no heights known here"));
    return;
  }
  const low0 = Math.min(...known), high0 = Math.max(...known);
  const step = niceStep(Math.max(high0 - low0, 2), 3);
  const low = Math.floor(low0 / step) * step, high = Math.max(Math.ceil(high0 / step) * step, low + step);
  const y = (value) => bottom - ((bottom - top) * (value - low)) / (high - low);
  for (let level = low; level <= high + 1e-6; level += step) rule(picture, y(level), figure(level, step < 1 ? 1 : 0));
  for (const run of runs(data.at, data.z, x, y)) {
    picture.append(svg("path", { d: "M" + run[0][0] + " " + bottom + " L" + run.map((p) => p.join(" ")).join(" L") + " L" + run[run.length - 1][0] + " " + bottom + " Z", class: "ground-fill" }));
    picture.append(svg("path", { d: "M" + run.map((p) => p.join(" ")).join(" L"), class: "trace" }));
  }
}

function slopeStrip(picture, strip, words, at, values, x) {
  const [top, bottom] = PROFILE.strips[strip];
  const known = values.filter((value) => value !== null).map(Math.abs);
  const reach = Math.max(Math.ceil(Math.max(5, ...known) / 5) * 5, 5);
  const y = (value) => (top + bottom) / 2 - ((bottom - top) / 2) * (value / reach);
  caption(picture, top - 8, words);
  for (const level of [reach, 0, -reach]) rule(picture, y(level), (level > 0 ? "+" : "") + figure(level, 0), level === 0);
  for (const run of runs(at, values, x, y)) {
    const zero = y(0);
    picture.append(svg("path", { d: "M" + run[0][0] + " " + zero + " L" + run.map((p) => p.join(" ")).join(" L") + " L" + run[run.length - 1][0] + " " + zero + " Z", class: "slope-fill" }));
    picture.append(svg("path", { d: "M" + run.map((p) => p.join(" ")).join(" L"), class: "trace fine" }));
  }
}

/** Stretches of known values as points on the picture. */
function runs(at, values, x, y) {
  const out = [];
  let open = null;
  values.forEach((value, i) => {
    if (value === null) open = null;
    else {
      if (!open) out.push((open = []));
      open.push([Number(x(at[i]).toFixed(1)), Number(y(value).toFixed(1))]);
    }
  });
  return out.filter((run) => run.length > 1);
}

function caption(picture, y, words) {
  picture.append(svg("text", { x: PROFILE.left, y, class: "caption" }, words));
}

function rule(picture, y, words, strong) {
  picture.append(svg("line", { x1: PROFILE.left, x2: PROFILE.width - PROFILE.right, y1: y, y2: y, class: strong ? "rule zero" : "rule" }));
  picture.append(svg("text", { x: PROFILE.left - 6, y: y + 4, "text-anchor": "end" }, words));
}

/** Chainage below, and an arrow the way it is driven. */
function footing(picture, data, x, way) {
  const y = PROFILE.foot;
  const step = niceStep(Math.max(data.length, 1), 5);
  for (let at = 0; at <= data.length + 1e-6; at += step) {
    picture.append(svg("line", { x1: x(at), x2: x(at), y1: PROFILE.strips.side[1], y2: PROFILE.strips.side[1] + 5, class: "tick" }));
    picture.append(svg("text", { x: x(at), y: y - 10, "text-anchor": "middle" }, figure(at, step < 1 ? 1 : 0)));
  }
  const arrowed = way === 0 ? "chainage in m; driven this way →" : "← driven this way; chainage in m";
  picture.append(svg("text", { x: way === 0 ? PROFILE.width - PROFILE.right : PROFILE.left, y: y + 8, "text-anchor": way === 0 ? "end" : "start", class: "caption" }, arrowed));
}

function worstLine(picture, x, words) {
  const right = x > PROFILE.width * 0.6;
  picture.append(svg("line", { x1: x, x2: x, y1: 12, y2: PROFILE.strips.side[1], class: "worst" }));
  picture.append(svg("path", { d: "M" + (x - 5) + " 10 h10 l-5 9 Z", class: "worst-flag" }));
  picture.append(svg("text", { x: x + (right ? -8 : 8), y: 11, "text-anchor": right ? "end" : "start", class: "worst-words" }, words));
}

/** Read off the profile under the pointer, and show the place on the map. */
function reader(picture, data, x) {
  const hair = svg("line", { y1: PROFILE.strips.z[0], y2: PROFILE.strips.side[1], class: "hair", visibility: "hidden" });
  const words = svg("text", { y: PROFILE.foot + 24, class: "reading", x: PROFILE.left });
  picture.append(hair, words);
  let spot = null;
  const off = () => {
    hair.setAttribute("visibility", "hidden");
    words.textContent = "";
    if (spot) MAP.removeLayer(spot);
    spot = null;
  };
  picture.addEventListener("pointerleave", off);
  picture.addEventListener("pointermove", (event) => {
    const box = picture.getBoundingClientRect();
    const share = (((event.clientX - box.left) / box.width) * PROFILE.width - PROFILE.left) / (PROFILE.width - PROFILE.left - PROFILE.right);
    if (share < 0 || share > 1 || !data.at.length) return off();
    const i = nearest(data.at, share * data.length);
    hair.setAttribute("x1", x(data.at[i]));
    hair.setAttribute("x2", x(data.at[i]));
    hair.setAttribute("visibility", "visible");
    words.textContent = "at " + figure(data.at[i], 0) + " m: " + figure(data.z[i], 1) + " m, grade " + figure(data.grade[i], 1) + "°, side " + figure(data.side[i], 1) + "°";
    const place = along(data.segment, data.at[i] / data.length);
    if (spot) spot.setLatLng(place);
    else spot = L.circleMarker(place, { radius: 7, color: INK, weight: 3, fillColor: "#fff", fillOpacity: 1, interactive: false, pane: "markerPane", renderer: L.svg({ pane: "markerPane" }) }).addTo(MAP);
    return undefined;
  });
}

function nearest(values, wanted) {
  let best = 0;
  values.forEach((value, i) => {
    if (Math.abs(value - wanted) < Math.abs(values[best] - wanted)) best = i;
  });
  return best;
}

/** The point at a share of a segment's length. */
function along(segment, share) {
  const points = lines[segment].getLatLngs();
  const steps = points.slice(1).map((point, i) => point.distanceTo(points[i]));
  let rest = share * steps.reduce((sum, step) => sum + step, 0);
  for (let i = 0; i < steps.length; i += 1) {
    if (rest <= steps[i] || i === steps.length - 1) {
      const part = steps[i] > 0 ? Math.min(rest / steps[i], 1) : 0;
      const from = points[i], to = points[i + 1];
      return [from.lat + part * (to.lat - from.lat), from.lng + part * (to.lng - from.lng)];
    }
    rest -= steps[i];
  }
  return points[0];
}
