// Where cells lie, how high the ground is, and what lies between two points.

import geodesics from 'geographiclib-geodesic';

const wgs84 = geodesics.Geodesic.WGS84;
const speedOfLight = 299792458;

export function turned(degrees) {
  return degrees - 360 * Math.floor((degrees + 180) / 360);
}

// Distance in metres and bearings in degrees from true north.
export function between(from, to) {
  const line = wgs84.Inverse(from.latitude, from.longitude, to.latitude, to.longitude);
  return { distanceM: line.s12, bearing: line.azi1, backBearing: line.azi2 + 180 };
}

export class Ground {
  constructor(grid, heights) {
    this.grid = grid;
    this.heights = heights;
  }

  // Columns and rows count from the centre of the first cell.
  has(column, row) {
    return column >= -0.5 && row >= -0.5 && column < this.grid.columns - 0.5 && row < this.grid.rows - 0.5;
  }

  // Position of a place in the raster, between the knots of the net. Longitude runs on across 180.
  place(column, row) {
    const { columns, rows, knots } = this.grid;
    const { count } = knots;
    const x = ((column + 0.5) / columns) * count;
    const y = ((row + 0.5) / rows) * count;
    const left = Math.min(Math.max(Math.floor(x), 0), count - 1);
    const top = Math.min(Math.max(Math.floor(y), 0), count - 1);
    const u = x - left;
    const v = y - top;
    const first = top * (count + 1) + left;
    const mixed = (values) =>
      (values[first] * (1 - u) + values[first + 1] * u) * (1 - v) +
      (values[first + count + 1] * (1 - u) + values[first + count + 2] * u) * v;
    return { latitude: mixed(knots.latitude), longitude: mixed(knots.longitude) };
  }

  position(column, row) {
    const { latitude, longitude } = this.place(column, row);
    return { latitude, longitude: turned(longitude) };
  }

  // The inverse of place(), by Newton's method with the slopes of the net.
  cell(position) {
    const { columns, rows } = this.grid;
    let column = columns / 2;
    let row = rows / 2;
    for (let i = 0; i < 12; i += 1) {
      const here = this.place(column, row);
      const east = this.place(column + 1, row);
      const south = this.place(column, row + 1);
      const a = east.longitude - here.longitude;
      const b = south.longitude - here.longitude;
      const c = east.latitude - here.latitude;
      const d = south.latitude - here.latitude;
      const toLongitude = turned(position.longitude - here.longitude);
      const toLatitude = position.latitude - here.latitude;
      const area = a * d - b * c;
      const right = (d * toLongitude - b * toLatitude) / area;
      const down = (a * toLatitude - c * toLongitude) / area;
      column += right;
      row += down;
      if (Math.abs(right) + Math.abs(down) < 1e-4) {
        break;
      }
    }
    return { column, row };
  }

  // Metres above the sea, between the four centres around; NaN where not known.
  height(column, row) {
    const { columns, rows, at } = this.heights;
    if (!this.has(column, row)) {
      return NaN;
    }
    const x = Math.min(Math.max(((column + 0.5) / this.grid.columns) * columns - 0.5, 0), columns - 1);
    const y = Math.min(Math.max(((row + 0.5) / this.grid.rows) * rows - 0.5, 0), rows - 1);
    const left = Math.min(Math.floor(x), columns - 2);
    const top = Math.min(Math.floor(y), rows - 2);
    const u = x - left;
    const v = y - top;
    const first = top * columns + left;
    let sum = 0;
    for (const [index, weight] of [
      [first, (1 - u) * (1 - v)],
      [first + 1, u * (1 - v)],
      [first + columns, (1 - u) * v],
      [first + columns + 1, u * v],
    ]) {
      // A centre that carries no weight may be unknown.
      sum += weight > 0 ? weight * at(index) : 0;
    }
    return sum;
  }

  // The ground between two antennas as it stands to a straight ray: the earth's curve is added to
  // the ground, d1 d2 / (2 a_e) (ITU-R P.526-15 section 4). Ends: {latitude, longitude, antennaM}.
  section(from, to, radiusKm, frequencyMhz) {
    const way = between(from, to);
    const line = wgs84.InverseLine(from.latitude, from.longitude, to.latitude, to.longitude);
    const { columns, rows } = this.heights;
    const cellM = Math.min(
      (this.grid.acrossM * this.grid.columns) / columns,
      (this.grid.downM * this.grid.rows) / rows,
    );
    const steps = Math.min(Math.max(Math.ceil(way.distanceM / cellM), 2), 1500);
    const lengthKm = way.distanceM / 1000;
    const section = { distanceKm: [], seaM: [], groundM: [], lineM: [], fresnelM: [], radiusKm };
    for (let i = 0; i <= steps; i += 1) {
      const share = i / steps;
      const point = line.Position(share * way.distanceM);
      const { column, row } = this.cell({ latitude: point.lat2, longitude: point.lon2 });
      const d1 = share * lengthKm;
      const d2 = lengthKm - d1;
      const bulge = (1000 * d1 * d2) / (2 * radiusKm);
      section.distanceKm.push(d1);
      section.seaM.push(bulge);
      section.groundM.push(this.height(column, row) + bulge);
      // Radius of the first Fresnel zone (ITU-R P.526-15, equation (2)).
      section.fresnelM.push(
        Math.sqrt((speedOfLight / (frequencyMhz * 1e6)) * ((1000 * d1 * d2) / Math.max(lengthKm, 1e-9))),
      );
    }
    const start = section.groundM[0] + from.antennaM;
    const end = section.groundM[steps] + to.antennaM;
    for (let i = 0; i <= steps; i += 1) {
      section.lineM.push(start + ((end - start) * i) / steps);
    }
    return section;
  }
}

// The point of a section that comes nearest to the ray, or stands highest above it, in radii of the
// first Fresnel zone; null if there is none.
export function tightest(section) {
  let found = null;
  for (let i = 1; i + 1 < section.distanceKm.length; i += 1) {
    const aboveM = (section.topM || section.groundM)[i] - section.lineM[i];
    const clearance = -aboveM / section.fresnelM[i];
    if (!Number.isNaN(clearance) && (found === null || clearance < found.clearance)) {
      found = { index: i, distanceKm: section.distanceKm[i], aboveM, clearance };
    }
  }
  return found;
}
