// Paints a frame's rows on a canvas: the same marks, in the same order, as the tool's own pictures.
const PI2 = Math.PI * 2;

// The sky as a small picture, made once for an answer and stretched over the frame.
function skyOf(given) {
  const small = document.createElement("canvas");
  small.width = given.columns;
  small.height = given.rows;
  const pen = small.getContext("2d");
  const pixels = pen.createImageData(given.columns, given.rows);
  const bytes = atob(given.rgb);
  for (let i = 0, k = 0; i < bytes.length; i += 3, k += 4) {
    pixels.data[k] = bytes.charCodeAt(i);
    pixels.data[k + 1] = bytes.charCodeAt(i + 1);
    pixels.data[k + 2] = bytes.charCodeAt(i + 2);
    pixels.data[k + 3] = 255;
  }
  pen.putImageData(pixels, 0, 0);
  return small;
}

function dot(pen, x, y, radius, ink, alpha) {
  pen.globalAlpha = alpha;
  pen.fillStyle = ink;
  pen.beginPath();
  pen.arc(x, y, radius, 0, PI2);
  pen.fill();
  pen.globalAlpha = 1;
}

function stars(pen, given) {
  const bright = new Set(given.halos);
  for (let i = 0; i < given.x.length; i += 1) {
    if (bright.has(i)) dot(pen, given.x[i], given.y[i], given.radius[i] * 2.6, given.ink[i], 0.12);
    dot(pen, given.x[i], given.y[i], given.radius[i], given.ink[i], given.alpha[i]);
  }
}

const PAINTED = {
  dot: (pen, [x, y, radius, ink, alpha]) => dot(pen, x, y, radius, ink, alpha),
  area: (pen, [rings, ink, edge]) => {
    pen.beginPath();
    for (const ring of rings) {
      for (let i = 0; i < ring.length; i += 2) pen[i ? "lineTo" : "moveTo"](ring[i], ring[i + 1]);
      pen.closePath();
    }
    pen.fillStyle = ink;
    pen.fill("evenodd");
    if (edge) {
      pen.strokeStyle = edge;
      pen.lineWidth = 0.5;
      pen.stroke();
    }
  },
  line: (pen, [points, ink, alpha, width, dashed]) => {
    pen.globalAlpha = alpha;
    pen.strokeStyle = ink;
    pen.lineWidth = width;
    pen.setLineDash(dashed ? [5, 4] : []);
    pen.beginPath();
    for (let i = 0; i < points.length; i += 2) pen[i ? "lineTo" : "moveTo"](points[i], points[i + 1]);
    pen.stroke();
    pen.setLineDash([]);
    pen.globalAlpha = 1;
  },
  words: (pen, [x, y, text, ink, size, anchor]) => {
    pen.fillStyle = ink;
    pen.font = `${size}px ${getComputedStyle(document.body).fontFamily}`;
    pen.textAlign = anchor === "middle" ? "center" : anchor;
    pen.fillText(text, x, y);
  },
};

// The subject is what is painted last; while a hand drags, it is drawn as the hand has it.
export function paint(canvas, frame, held = null) {
  const wide = Math.max(1, Math.round(canvas.clientWidth * devicePixelRatio) || frame.width);
  const scale = wide / frame.width;
  if (canvas.width !== wide) {
    canvas.width = wide;
    canvas.height = Math.round(frame.height * scale);
  }
  const pen = canvas.getContext("2d", { alpha: false });
  frame.picture ??= skyOf(frame.sky);
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  pen.fillStyle = "#000";
  pen.fillRect(0, 0, frame.width, frame.height);
  const base = held?.base ?? frame.base_margin;
  const grown = (held?.share ?? frame.share) / frame.share;
  pen.translate(0, (frame.base_margin - base) * frame.height);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(frame.picture, 0, 0, frame.width, frame.height);
  stars(pen, frame.stars);
  frame.marks.forEach(([kind, ...facts], i) => {
    const last = i === frame.marks.length - 1;
    if (last && grown !== 1) {
      const foot = (1 - frame.base_margin) * frame.height;
      pen.translate(frame.width / 2, foot);
      pen.scale(grown, grown);
      pen.translate(-frame.width / 2, -foot);
    }
    PAINTED[kind](pen, facts);
  });
  pen.setTransform(1, 0, 0, 1, 0, 0);
}
