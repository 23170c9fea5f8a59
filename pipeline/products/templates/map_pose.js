// How the set-up stands at the worst place of a segment: side view and rear view, drawn to scale.
const POSE_WIDTH = 400;
const LINE_LEFT = 0, LINE_MIDDLE = 1, LINE_RIGHT = 2;
const FRONT_LEFT = 0, FRONT_RIGHT = 1, REAR_LEFT = 2, REAR_RIGHT = 3;

/** The pose of a segment for a key (2 × set-up + direction), in metres and degrees; null where there is none. */
function poseOf(segment, key) {
  const row = SITE.poses.rows[segment].find((one) => one[0] === key);
  if (!row) return null;
  const [, check, at, worst, apart, pitch, roll, lifted, lift, rest, wheels, under, ground] = row;
  const over = (value, parts) => (value === null ? null : value / parts);
  return {
    check, lifted, at: at / 10, worst: worst / 100, apart: apart / 100, pitch: pitch / 10, roll: over(roll, 10),
    lift: lift / 1000, rest: over(rest, 10), wheels: wheels.map((value) => over(value, 1000)),
    under: under.map((value) => over(value, 1000)), ground: ground.map((line) => line.map(corners)),
  };
}

/** Corners of a stretch of ground, m, from its steps in cm. */
function corners(coded) {
  const out = [];
  let x = 0, z = 0;
  for (let i = 0; i < coded.length; i += 2) {
    x += coded[i];
    z += coded[i + 1];
    out.push([x / 100, z / 100]);
  }
  return out;
}

/** Height of a line of ground at a place, m; null where it is not known. */
function heightAt(line, x) {
  for (const stretch of line) {
    for (let i = 1; i < stretch.length; i += 1) {
      const [[x0, z0], [x1, z1]] = [stretch[i - 1], stretch[i]];
      if (x0 <= x && x <= x1) return z0 + ((z1 - z0) * (x - x0)) / (x1 - x0);
    }
  }
  return null;
}

const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** The figure of a pose, or the sentence that says why there is none. */
function poseFigure(segment, key) {
  const pose = poseOf(segment, key);
  if (!pose || pose.wheels.includes(null)) return el("p", { class: "note" }, SITE.poses.note || "How it stands is not drawn for this set-up and direction: the ground under its wheels is not known at a worst place.");
  const body = SITE.setups[Math.floor(key / WAYS)].body;
  const words = poseWords(pose);
  const rear = pose.under.includes(null) || pose.roll === null ? null : rearPicture(pose, body, words);
  return el("figure", { class: "pose" },
    el("figcaption", {}, el("b", {}, "How it stands"), " at the worst place of " + SITE.checks[pose.check] + ", " + metres(pose.at) + " from the start of the line. Drawn to scale."),
    sidePicture(pose, body, words),
    el("p", { class: "note" }, sideKey(pose)),
    rear ?? el("p", { class: "note" }, "No view from behind: the ground beside the middle of the trail is not known here."),
    rear ? el("p", { class: "note" }, "Seen from behind, along the vehicle. Dark: rear axle, with the ground under it; pale and dashed: front axle. Thin lines: from the centre of gravity to the tyres that it would tip over.") : "");
}

function sideKey(pose) {
  const beside = pose.ground[LINE_LEFT].length && pose.ground[LINE_RIGHT].length;
  const lines = beside ? "unbroken under the right wheels, dashed under the left, dotted in the middle" : "dotted in the middle; beside it not known";
  return "Seen from the right. Ground: " + lines + ". Thick line: underbody; thin box: as long and as high as the vehicle; dash and dot: plumb line from the centre of gravity.";
}

function poseWords(pose) {
  const way = (value, plus, minus) => (Math.abs(value) < 0.05 ? "level" : figure(Math.abs(value), 1) + "°, " + (value > 0 ? plus : minus));
  return {
    pitch: "pitch " + way(pose.pitch, "nose up", "nose down"),
    roll: pose.roll === null ? "" : "roll " + way(pose.roll, "right side low", "left side low"),
    up: pose.lifted < 0 ? "" : SITE.poses.wheels[pose.lifted] + " in the air",
    air: pose.lifted < 0 ? "" : SITE.poses.wheels[pose.lifted] + " in the air" + (pose.lift >= 0.005 ? ", " + figure(pose.lift, 2) + " m" : ""),
    rest: pose.rest === null ? "" : figure(pose.rest, 1) + "° short of " + (pose.lifted < 0 ? "tipping over" : "rocking or tipping"),
  };
}

/** Begin a picture that reads aloud as `title`, then `words`. */
function posePicture(name, height, title, words) {
  return svg("svg", { viewBox: "0 0 " + POSE_WIDTH + " " + Math.ceil(height), role: "img", class: "stand " + name, "aria-labelledby": name + "-title " + name + "-words" },
    svg("title", { id: name + "-title" }, title), svg("desc", { id: name + "-words" }, words.filter(Boolean).join("; ") + "."));
}

const path = (points) => points.map((point) => point.map((value) => value.toFixed(1)).join(",")).join(" ");

function label(picture, x, y, words, anchor, kind) {
  picture.append(svg("text", { x: x.toFixed(1), y: y.toFixed(1), "text-anchor": anchor ?? "start", class: kind ?? null }, words));
}

/** A bar that says how long it is. */
function scaleBar(picture, x, y, pixels, words) {
  picture.append(svg("path", { d: "M" + x + " " + (y - 5) + " v5 h" + pixels.toFixed(1) + " v-5", class: "bar" }));
  label(picture, x + pixels + 6, y, words);
}

/** The sign of a centre of gravity: a quartered disc. */
function gravityMark(picture, [x, y]) {
  const r = 6.5;
  const quarter = (dx, dy, sweep) => "M0 0 L" + dx * r + " 0 A" + r + " " + r + " 0 0 " + sweep + " 0 " + dy * r + " Z";
  picture.append(svg("g", { class: "gravity", transform: "translate(" + x.toFixed(1) + " " + y.toFixed(1) + ")" },
    svg("circle", { r, class: "disc" }), svg("path", { d: quarter(1, -1, 0) + quarter(-1, 1, 0) })));
}

// --- from the side: forward to the right ---

/** Where points of the vehicle stand: x from below the front axle, z over the mean of the ground. */
function inSideView(pose, body) {
  const turn = (pose.pitch * Math.PI) / 180;
  const cos = Math.cos(turn), sin = Math.sin(turn);
  const height = mean(pose.wheels);
  return ([x, z]) => {
    const along = (x + body.wheelbase / 2) / 1000, up = (z - body.radius) / 1000;
    return [along * cos - up * sin - pose.apart / 2, along * sin + up * cos + height];
  };
}

/** Outline of the vehicle, mm: along its underbody from front to rear, and round the box that holds it. */
function sideOutline(body) {
  const under = [];
  for (let i = 0; i < body.under.length; i += 2) under.push([body.under[i], body.under[i + 1]]);
  const front = body.front, rear = -body.wheelbase - body.rear;
  return { under, box: [[front, under[0][1]], ...under, [rear, under[under.length - 1][1]], [rear, body.height], [front, body.height]] };
}

function sidePicture(pose, body, words) {
  const stand = inSideView(pose, body);
  const outline = sideOutline(body);
  const box = outline.box.map(stand);
  const points = [...box, ...pose.ground.flat(2), ...pose.wheels.map((z, i) => [i < REAR_LEFT ? 0 : -pose.apart, z - body.radius / 1000])];
  const [xs, zs] = [points.map((point) => point[0]), points.map((point) => point[1])];
  const left = Math.min(...xs), low = Math.min(...zs), high = Math.max(...zs);
  const scale = (POSE_WIDTH - 12) / (Math.max(...xs) - left);
  const view = { scale, at: ([x, z]) => [6 + (x - left) * scale, 46 + (high - z) * scale], foot: 46 + (high - low) * scale + 8 };
  const picture = posePicture("side-view", view.foot + 32, "Side view from the right, driven to the right", [words.pitch, words.air, "worst point " + figure(Math.abs(pose.worst), 2) + " m " + (pose.worst < 0 ? "behind" : "in front of") + " the middle of the front axle"]);
  sideFill(picture, pose, view);
  sideTyres(picture, pose, body, view, [FRONT_LEFT, REAR_LEFT], "far");
  picture.append(svg("polygon", { points: path(box.map(view.at)), class: "box" }));
  sideLines(picture, pose, view);
  picture.append(svg("polyline", { points: path(outline.under.map((point) => view.at(stand(point)))), class: "under" }));
  sideTyres(picture, pose, body, view, [FRONT_RIGHT, REAR_RIGHT], "near");
  sidePlumb(picture, pose, view, stand([body.cg[0], body.cg[2]]));
  sideWorst(picture, pose, view);
  label(picture, 6, 15, words.pitch, "start", "strong");
  if (words.up) label(picture, POSE_WIDTH - 6, 15, words.up, "end", "strong");
  scaleBar(picture, 8, view.foot + 20, scale, "1 m");
  label(picture, POSE_WIDTH - 62, view.foot + 20, "driven this way", "end");
  picture.append(svg("path", { d: "M" + (POSE_WIDTH - 56) + " " + (view.foot + 16) + " h38 v-5 l12 5 l-12 5 v-5", class: "heading" }));
  return picture;
}

/** The ground under the near wheels, filled. */
function sideFill(picture, pose, view) {
  const foot = view.foot;
  const near = pose.ground[LINE_RIGHT].length ? LINE_RIGHT : LINE_MIDDLE;
  for (const stretch of pose.ground[near]) {
    const points = stretch.map(view.at);
    picture.append(svg("polygon", { points: path([[points[0][0], foot], ...points, [points[points.length - 1][0], foot]]), class: "ground-fill" }));
  }
}

function sideLines(picture, pose, view) {
  for (const [line, kind] of [[LINE_LEFT, "left"], [LINE_MIDDLE, "middle"], [LINE_RIGHT, "right"]]) {
    for (const stretch of pose.ground[line]) picture.append(svg("polyline", { points: path(stretch.map(view.at)), class: "land " + kind }));
  }
}

function sideTyres(picture, pose, body, view, wheels, kind) {
  for (const wheel of wheels) {
    if (pose.wheels[wheel] === null) continue;
    const [x, y] = view.at([wheel < REAR_LEFT ? 0 : -pose.apart, pose.wheels[wheel]]);
    const r = (body.radius / 1000) * view.scale;
    const air = wheel === pose.lifted ? " air" : "";
    picture.append(svg("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r: r.toFixed(1), class: "tyre " + kind + air, "data-wheel": SITE.poses.wheels[wheel] }));
    picture.append(svg("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r: (r * 0.5).toFixed(1), class: "hub " + kind + air }));
  }
}

function sidePlumb(picture, pose, view, centre) {
  const below = heightAt(pose.ground[LINE_MIDDLE], centre[0]) ?? mean(pose.wheels) - 0.4;
  const [top, foot] = [view.at(centre), view.at([centre[0], below])];
  picture.append(svg("line", { x1: top[0], y1: top[1], x2: foot[0], y2: foot[1], class: "plumb" }));
  gravityMark(picture, top);
}

function sideWorst(picture, pose, view) {
  const ground = [LINE_MIDDLE, LINE_RIGHT, LINE_LEFT].map((line) => heightAt(pose.ground[line], pose.worst)).find((z) => z !== null);
  if (ground === undefined) return;
  const [x, y] = view.at([pose.worst, ground]);
  const right = x > POSE_WIDTH * 0.55;
  picture.append(svg("line", { x1: x, x2: x, y1: 34, y2: y, class: "worst" }));
  picture.append(svg("path", { d: "M" + (x - 5) + " 24 h10 l-5 9 Z", class: "worst-flag" }), svg("circle", { cx: x, cy: y, r: 3.5, class: "worst-flag" }));
  label(picture, x + (right ? -9 : 9), 34, "worst point", right ? "end" : "start", "strong");
}

// --- from behind, along the vehicle: each axle over the mean of its own ground ---

/** Heights over the mean of each axle's wheel centres: the ground under its wheels, and the centres. */
function axles(pose, body) {
  const radius = body.radius / 1000;
  const rises = pose.under.map((z, wheel) => (wheel === pose.lifted ? pose.lift : 0) + radius + z);
  return [[FRONT_LEFT, FRONT_RIGHT], [REAR_LEFT, REAR_RIGHT]].map(([l, r], i) => {
    const zero = (rises[l] + rises[r]) / 2;
    const middle = heightAt(pose.ground[LINE_MIDDLE], i === 0 ? 0 : -pose.apart);
    const half = body.tracks[i] / 2000;
    const ends = [pose.under[l] - zero, pose.under[r] - zero];
    return { wheels: [l, r], half, ground: ends, middle: middle === null ? mean(ends) : middle - zero, centres: [rises[l] - zero, rises[r] - zero] };
  });
}

function rearPicture(pose, body, words) {
  const [front, rear] = axles(pose, body);
  const turn = (pose.roll * Math.PI) / 180;
  const stand = ([y, z]) => {
    const across = y / 1000, up = (z - body.radius) / 1000;
    return [across * Math.cos(turn) + up * Math.sin(turn), up * Math.cos(turn) - across * Math.sin(turn)];
  };
  const heights = body.under.filter((_, i) => i % 2 === 1);
  const low = Math.min(...heights), half = body.width / 2;
  const box = [[-half, low], [half, low], [half, body.height], [-half, body.height]].map(stand);
  const reach = Math.max(rear.half, front.half) + body.tyre / 2000 + 0.25;
  const lows = [...rear.ground, ...front.ground, rear.middle, front.middle];
  const points = [...box, [-reach, Math.min(...lows) - 0.1], [reach, 0]];
  const [ys, zs] = [points.map((point) => point[0]), points.map((point) => point[1])];
  const wide = Math.max(...ys.map(Math.abs));
  const scale = Math.min(100, (POSE_WIDTH - 60) / (2 * wide));
  const top = 46, foot = top + (Math.max(...zs) - Math.min(...zs)) * scale;
  const view = { scale, foot, at: ([y, z]) => [POSE_WIDTH / 2 + y * scale, top + (Math.max(...zs) - z) * scale] };
  const picture = posePicture("rear-view", foot + 50, "View from behind", [words.roll, words.air, words.rest]);
  rearGround(picture, rear, reach, view, "right");
  rearAxle(picture, pose, body, front, view, "far");
  rearGround(picture, front, reach, view, "left");
  picture.append(svg("polygon", { points: path(box.map(view.at)), class: "box" }));
  rearAxle(picture, pose, body, rear, view, "near");
  tippingLines(picture, pose, [front, rear], view, stand([-body.cg[1], body.cg[2]]));
  label(picture, 6, 15, words.roll, "start", "strong");
  if (words.rest) label(picture, POSE_WIDTH - 6, foot + 40, words.rest, "end", "strong");
  label(picture, POSE_WIDTH / 2 - rear.half * scale, foot + 16, "left", "middle");
  label(picture, POSE_WIDTH / 2 + rear.half * scale, foot + 16, "right", "middle");
  if (words.air) airLabel(picture, pose, [front, rear], body, view, words.air);
  scaleBar(picture, 8, foot + 40, scale / 2, "0.5 m");
  return picture;
}

/** Ground under an axle: through both wheels and the middle, a little beyond the tyres. */
function rearGround(picture, axle, reach, view, kind) {
  const slopes = [axle.middle - axle.ground[0], axle.ground[1] - axle.middle].map((rise) => rise / axle.half);
  const line = [[-reach, axle.middle - slopes[0] * reach], [0, axle.middle], [reach, axle.middle + slopes[1] * reach]].map(view.at);
  if (kind === "right") picture.append(svg("polygon", { points: path([[line[0][0], view.foot], ...line, [line[2][0], view.foot]]), class: "ground-fill" }));
  picture.append(svg("polyline", { points: path(line), class: "land " + kind }));
}

function rearAxle(picture, pose, body, axle, view, kind) {
  const lean = Math.asin(Math.max(-1, Math.min(1, (axle.centres[0] - axle.centres[1]) / (2 * axle.half))));
  const ends = axle.centres.map((z, i) => view.at([i === 0 ? -axle.half : axle.half, z]));
  picture.append(svg("line", { x1: ends[0][0], y1: ends[0][1], x2: ends[1][0], y2: ends[1][1], class: "beam " + kind }));
  axle.wheels.forEach((wheel, i) => {
    const [wide, high] = [(body.tyre / 1000) * view.scale, (body.radius / 500) * view.scale];
    const [x, y] = ends[i];
    picture.append(svg("rect", {
      x: (x - wide / 2).toFixed(1), y: (y - high / 2).toFixed(1), width: wide.toFixed(1), height: high.toFixed(1), rx: 3,
      transform: "rotate(" + ((lean * 180) / Math.PI).toFixed(2) + " " + x.toFixed(1) + " " + y.toFixed(1) + ")",
      class: "tyre " + kind + (wheel === pose.lifted ? " air" : ""), "data-wheel": SITE.poses.wheels[wheel],
    }));
  });
}

/** Name the wheel in the air, with a line to it. */
function airLabel(picture, pose, both, body, view, words) {
  const axle = both.find((one) => one.wheels.includes(pose.lifted));
  const side = axle.wheels.indexOf(pose.lifted);
  const outside = axle.half + body.tyre / 2000;
  const [x, y] = view.at([side === 0 ? -outside : outside, axle.centres[side]]);
  const edge = side === 0 ? 10 : POSE_WIDTH - 10;
  picture.append(svg("polyline", { points: path([[edge, 42], [edge, y], [x, y]]), class: "tip" }));
  label(picture, edge, 36, words, side === 0 ? "start" : "end", "strong");
}

/** The plumb line from the centre of gravity, and lines to the tyres on either side that it would tip over. */
function tippingLines(picture, pose, [front, rear], view, centre) {
  const from = view.at(centre);
  for (const side of [0, 1]) {
    const axle = rear.wheels[side] === pose.lifted ? front : rear;
    const to = view.at([side === 0 ? -axle.half : axle.half, axle.ground[side]]);
    picture.append(svg("line", { x1: from[0], y1: from[1], x2: to[0], y2: to[1], class: "tip" }));
  }
  const within = Math.max(-1, Math.min(1, centre[0] / rear.half));
  const below = within < 0 ? rear.middle + (rear.ground[0] - rear.middle) * -within : rear.middle + (rear.ground[1] - rear.middle) * within;
  const foot = view.at([centre[0], below]);
  picture.append(svg("line", { x1: from[0], y1: from[1], x2: foot[0], y2: foot[1], class: "plumb" }));
  gravityMark(picture, from);
}
