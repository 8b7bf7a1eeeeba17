// The map itself: classes of margin over shaded relief, drawn tile by tile from the raster.

import L from 'leaflet';

function partsOf(colour) {
  return [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16));
}

const unknown = 0;
const unheard = 1;

// For each cell the class to draw: 0 unknown, 1 nothing shown, from 2 on the coloured ones.
function classesOf(margin, coloured) {
  const classes = new Uint8Array(margin.numbers.length);
  for (let i = 0; i < classes.length; i += 1) {
    const value = margin.at(i);
    let index = Number.isNaN(value) ? unknown : unheard;
    for (let k = 0; index === unheard && k < coloured.length; k += 1) {
      if (value >= coloured[k].least) {
        index = 2 + k;
      }
    }
    classes[i] = index;
  }
  return classes;
}

// Cells under the pixels of one side of a tile: `samples` for each pixel, -1 off the raster.
function cellsAlong(start, perPixel, pixels, samples, cells) {
  const found = new Int32Array(pixels * samples);
  for (let i = 0; i < found.length; i += 1) {
    const cell = Math.floor(start + ((i + 0.5) / samples) * perPixel);
    found[i] = cell >= 0 && cell < cells ? cell : -1;
  }
  return found;
}

// The same for a raster that is drawn smoothly: the cell before each pixel, and how far beyond it.
function betweenAlong(start, perPixel, pixels, cells, own) {
  const first = new Int32Array(pixels);
  const share = new Float32Array(pixels);
  for (let i = 0; i < pixels; i += 1) {
    const at = ((start + (i + 0.5) * perPixel) / cells) * own - 0.5;
    const inside = Math.min(Math.max(at, 0), own - 1);
    first[i] = Math.min(Math.floor(inside), own - 2);
    share[i] = inside - first[i];
  }
  return { first, share };
}

// Canvas pixels for each pixel of the page: enough for the finest screens that matter here.
const fineness = 2;
const mostSamples = 3;
const hatchPeriod = 13;

export const CoverageLayer = L.GridLayer.extend({
  options: { minZoom: -100, maxZoom: 100, updateWhenZooming: false, keepBuffer: 1 },

  initialize(data) {
    const coloured = data.legend.classes.filter((entry) => entry.colour);
    this.grid = data.grid;
    this.style = data.legend.style;
    this.colours = coloured.map((entry) => partsOf(entry.colour));
    this.hatch = partsOf(this.style.hatch);
    this.classes = classesOf(data.margin, coloured);
    this.relief = data.relief;
    this.greys = new Float32Array(this.relief.numbers.length);
    for (let i = 0; i < this.greys.length; i += 1) {
      this.greys[i] = this.relief.at(i);
    }
    this.shows = { coverage: true, relief: true };
    L.GridLayer.prototype.initialize.call(this, {});
  },

  show(what, shown) {
    this.shows[what] = shown;
    this.redraw();
  },

  createTile(coords) {
    const tile = document.createElement('canvas');
    tile.width = this.getTileSize().x * fineness;
    tile.height = this.getTileSize().y * fineness;
    this.draw(tile, coords);
    return tile;
  },

  draw(tile, coords) {
    const { crs } = this._map.options;
    const pixelsPerCell = crs.pixelsPerCell(coords.z);
    const across = 1 / (pixelsPerCell.x * fineness);
    const down = 1 / (pixelsPerCell.y * fineness);
    const { width, height } = tile;
    const left = coords.x * width * across;
    const top = coords.y * height * down;
    const { columns, rows } = this.grid;
    if (left >= columns || top >= rows || left + width * across <= 0 || top + height * down <= 0) {
      return;
    }
    const samples = Math.min(Math.max(Math.ceil(Math.max(across, down)), 1), mostSamples);
    const columnAt = cellsAlong(left, across, width, samples, columns);
    const rowAt = cellsAlong(top, down, height, samples, rows);
    const x = betweenAlong(left, across, width, columns, this.relief.columns);
    const y = betweenAlong(top, down, height, rows, this.relief.rows);
    const context = tile.getContext('2d');
    const image = context.createImageData(width, height);
    const { levelGrey, classOpacity, unknownVeil } = this.style;
    for (let j = 0, at = 0; j < height; j += 1) {
      for (let i = 0; i < width; i += 1, at += 4) {
        const grey = this.shows.relief ? this.greyAt(x, y, i, j) : levelGrey;
        const lift = 255 * (1 - classOpacity) * (grey - levelGrey);
        const veiled = 255 * (grey + (1 - grey) * unknownVeil);
        const onHatch =
          (coords.x * width + i + coords.y * height + j) % (hatchPeriod * fineness) < fineness;
        let red = 0;
        let green = 0;
        let blue = 0;
        let count = 0;
        for (let n = 0; n < samples; n += 1) {
          const row = rowAt[j * samples + n];
          for (let m = 0; m < samples; m += 1) {
            const column = columnAt[i * samples + m];
            if (row < 0 || column < 0) {
              continue;
            }
            count += 1;
            const index = this.shows.coverage ? this.classes[row * columns + column] : unheard;
            if (index > unheard) {
              const colour = this.colours[index - 2];
              red += colour[0] + lift;
              green += colour[1] + lift;
              blue += colour[2] + lift;
            } else if (index === unknown && onHatch) {
              red += this.hatch[0];
              green += this.hatch[1];
              blue += this.hatch[2];
            } else {
              const bare = index === unknown ? veiled : 255 * grey;
              red += bare;
              green += bare;
              blue += bare;
            }
          }
        }
        if (count > 0) {
          image.data[at] = red / count;
          image.data[at + 1] = green / count;
          image.data[at + 2] = blue / count;
          image.data[at + 3] = (255 * count) / (samples * samples);
        }
      }
    }
    context.putImageData(image, 0, 0);
  },

  greyAt(x, y, i, j) {
    const first = y.first[j] * this.relief.columns + x.first[i];
    const u = x.share[i];
    const v = y.share[j];
    const below = first + this.relief.columns;
    return (
      (this.greys[first] * (1 - u) + this.greys[first + 1] * u) * (1 - v) +
      (this.greys[below] * (1 - u) + this.greys[below + 1] * u) * v
    );
  },
});
