// The picture as it will be printed, drawn from the small photo: cropped, turned, in the tones of
// the print, and mirrored if the print is.
//
// Computed as in the service (linear-light luminance by IEC 61966-2-1, then one curve of 256
// values), so that it looks like the print. On a canvas, which is faster and differs less between
// browsers than CSS filters.

/** Limit of the device pixel ratio: more is not visible, and phones have little memory. */
const MOST_PIXELS_PER_PX = 2;
/** Shares of linear red, green and blue in luminance (IEC 61966-2-1). */
const LUMINANCE = [0.2126, 0.7152, 0.0722];

const toLinear = Float32Array.from({ length: 256 }, (_, value) => {
  const v = value / 255;
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
});

/** Encoded value of each of 4096 steps of linear light. */
const toEncoded = Uint8ClampedArray.from({ length: 4097 }, (_, step) => {
  const v = step / 4096;
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
});

/** How far greys are on their way to white before lightening: below lines, and where they are traced
 * themselves (MIXED_LIGHTENED and GREY_LIGHTENED of `worker/spec/tone_curve.py`). */
const BELOW_LINES = 0.65;
const TRACED = 0.35;

/**
 * How far every value is lightened, as in `worker/spec/tone_curve.py`.
 * @param {{style: string, fullStrength: boolean, lighten: number}} sheets
 * @returns {number} from 0 (unchanged) to 1 (paper white)
 */
export function lightening({ style, fullStrength, lighten }) {
  const begins = { mixed: BELOW_LINES, outline: BELOW_LINES, grey: fullStrength ? 0 : TRACED }[style] ?? 0;
  return begins + (1 - begins) * lighten;
}

/**
 * The printed value of each of the 256 values, as in `worker/spec/tone_curve.py`.
 * @param {{lighten: number, contrast: number}} tone
 * @returns {Uint8ClampedArray}
 */
function toneCurve({ lighten, contrast }) {
  return Uint8ClampedArray.from({ length: 256 }, (_, value) => {
    const turned = Math.min(255, Math.max(0, 127.5 + (value - 127.5) * (1 + contrast)));
    return turned + (255 - turned) * lighten;
  });
}

/**
 * Draw the picture into a canvas of the given width on the screen.
 * @param {HTMLCanvasElement} canvas
 * @param {CanvasImageSource} image - the preview, upright
 * @param {{crop: {left: number, top: number, width: number, height: number},
 *   rotateDeg: number, referenceWidth: number, referenceHeight: number, mirror: boolean,
 *   style: "grey"|"colour", lighten: number, contrast: number}} picture -
 *   `crop` in shares of the upright reference, before it is turned about its centre
 * @param {number} widthPx
 */
export function drawPicture(canvas, image, picture, widthPx) {
  const dense = Math.min(window.devicePixelRatio || 1, MOST_PIXELS_PER_PX);
  const { crop, referenceWidth, referenceHeight } = picture;
  const scale = (widthPx * dense) / (crop.width * referenceWidth);
  const width = Math.max(1, Math.round(widthPx * dense));
  const height = Math.max(1, Math.round(crop.height * referenceHeight * scale));
  if (canvas.width !== width) canvas.width = width;
  if (canvas.height !== height) canvas.height = height;
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.setTransform(picture.mirror ? -1 : 1, 0, 0, 1, width / 2, height / 2);
  context.rotate((picture.rotateDeg * Math.PI) / 180);
  context.imageSmoothingQuality = "high";
  const middleX = (crop.left + crop.width / 2) * referenceWidth * scale;
  const middleY = (crop.top + crop.height / 2) * referenceHeight * scale;
  context.drawImage(
    image, -middleX, -middleY, referenceWidth * scale, referenceHeight * scale,
  );
  tone(context, width, height, picture);
}

function tone(context, width, height, picture) {
  if (picture.style === "colour" && !picture.lighten && !picture.contrast) return;
  const pixels = context.getImageData(0, 0, width, height);
  const curve = toneCurve(picture);
  if (picture.style === "grey") greyed(pixels.data, curve);
  else coloured(pixels.data, curve);
  context.putImageData(pixels, 0, 0);
}

function greyed(data, curve) {
  const [red, green, blue] = LUMINANCE.map((share) => share * 4096);
  for (let at = 0; at < data.length; at += 4) {
    const light = red * toLinear[data[at]] + green * toLinear[data[at + 1]]
      + blue * toLinear[data[at + 2]];
    const value = curve[toEncoded[Math.round(light)]];
    data[at] = value;
    data[at + 1] = value;
    data[at + 2] = value;
  }
}

function coloured(data, curve) {
  for (let at = 0; at < data.length; at += 4) {
    data[at] = curve[data[at]];
    data[at + 1] = curve[data[at + 1]];
    data[at + 2] = curve[data[at + 2]];
  }
}
