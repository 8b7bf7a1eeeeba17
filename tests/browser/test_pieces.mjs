// The page's own arithmetic, against values from outside.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { test } from 'node:test';
import { undifferenced } from '../data.js';
import { distance, height, margin, percent, shortPercent, useUnits } from '../dom.js';
import { between, Ground, tightest } from '../ground.js';
import { placeLabels } from '../labels.js';
import { parsePlace } from '../reading.js';

test('rasters come out of differences as they went in', () => {
  // By hand: 300 298 / -32768 -32767: differences 300 -2 / -33068 1, modulo 65536.
  const differences = [300, 65534, 32468, 1];
  const planes = Uint8Array.from([...differences.map((n) => n & 255), ...differences.map((n) => n >> 8)]);
  assert.deepEqual([...undifferenced(planes, 2, 2)], [300, 298, -32768, -32767]);
});

test('margins and chances are rounded as on the printed pages', () => {
  // As in tests/report/test_numbers.cpp; classes begin at the margins of docs/woods-and-noise.md.
  const data = { legend: { classes: [16, 6, 0, -3, -6, null].map((least) => ({ least })) } };
  const shown = (value, decimals, wanted) => margin(data, value, decimals, wanted).replace('\u2212', '-');
  for (const [value, whole, tenth] of [
    [1.9, '+2', '+1.9'], [2.5, '+3', '+2.5'], [-1.5, '-2', '-1.5'], [0.04, '+0', '+0.0'],
    [-0.04, '-1', '-0.1'], [-0.4, '-1', '-0.4'], [5.96, '+5', '+5.9'], [15.6, '+15', '+15.6'],
    [-3.04, '-4', '-3.1'], [-2.96, '-3', '-3.0'], [16.0, '+16', '+16.0'],
  ]) {
    assert.equal(shown(value, 0), whole);
    assert.equal(shown(value, 1), tenth);
  }
  assert.equal(shown(9.7, 0, 10), '+9');
  assert.equal(shown(3.4, 0, 3.3), '+4');
  assert.equal(margin(data, null), '\u2013');
  assert.deepEqual([0.4, 0.5, 83.5, 99.4, 99.5].map(percent), ['under 1 %', '1 %', '84 %', '99 %', 'over 99 %']);
  assert.deepEqual([0.4, 99.5].map(shortPercent), ['<1 %', '>99 %']);
  assert.deepEqual([849.6, 1234, 27340, 123456].map(distance), ['850 m', '1.23 km', '27.3 km', '123 km']);
  // By hand: 0.3048 m to the foot, 1609.344 m to the mile.
  useUnits('imperial');
  assert.deepEqual([1.8288, 250, 9917].map(distance), ['6 ft', '820 ft', '6.16 mi']);
  assert.equal(height(30.48), '100 ft');
  useUnits('metric');
});

test('distance and bearing are those of a published geodesic', () => {
  // C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87 (2013), table 2: from 40 N at an
  // azimuth of 30 degrees, 10 000 km lead to 41.79331020506 N 137.84490004377 E.
  const way = between({ latitude: 40, longitude: 0 }, { latitude: 41.79331020506, longitude: 137.84490004377 });
  assert.ok(Math.abs(way.distanceM - 1e7) < 0.01);
  assert.ok(Math.abs(way.bearing - 30) < 1e-6);
});

// A net over cells of 0.001 degrees with a little bend, as a projection has.
function bentGround() {
  const count = 16;
  const knots = { count, latitude: [], longitude: [] };
  for (let v = 0; v <= count; v += 1) {
    for (let u = 0; u <= count; u += 1) {
      knots.longitude.push(179.95 + 0.1 * (u / count) + 0.002 * (v / count) * (u / count));
      knots.latitude.push(50 - 0.1 * (v / count) + 0.001 * (u / count) ** 2);
    }
  }
  const heights = { columns: 100, rows: 100, at: (index) => (index % 100) * 10 };
  return new Ground({ columns: 100, rows: 100, acrossM: 71, downM: 111, knots }, heights);
}

test('a cell leads to its position and back, across the 180 degree meridian too', () => {
  const ground = bentGround();
  for (const [column, row] of [[3.2, 4.7], [50, 50], [97.5, 12.25], [60.1, 99.2]]) {
    const back = ground.cell(ground.position(column, row));
    assert.ok(Math.abs(back.column - column) < 1e-3, `${back.column} for ${column}`);
    assert.ok(Math.abs(back.row - row) < 1e-3, `${back.row} for ${row}`);
  }
  assert.ok(ground.position(90, 50).longitude < -179.9);
});

test('heights between four cells are bilinear, and unknown off the raster', () => {
  const ground = bentGround();
  assert.equal(ground.height(10, 10), 100);
  assert.ok(Math.abs(ground.height(10.25, 3.5) - 102.5) < 1e-9);
  assert.ok(Number.isNaN(ground.height(-0.6, 3)));
});

test('a ray over level ground is cleared by the earth as ITU-R P.526 has it', () => {
  const ground = bentGround();
  ground.heights.at = () => 0;
  const ends = [ground.position(10, 50), ground.position(80, 50)].map((place) => ({ ...place, antennaM: 10 }));
  const section = ground.section(ends[0], ends[1], 8494.667, 150);
  const lengthKm = section.distanceKm.at(-1);
  const middle = Math.floor(section.distanceKm.length / 2);
  const d1 = section.distanceKm[middle];
  const d2 = lengthKm - d1;
  // ITU-R P.526-15 section 4 with k = 4/3: the ground bulges by d1 d2 / (2 k a); in practical units
  // d1 d2 / 17 m for distances in km (a = 6371 km: 16.99).
  assert.ok(Math.abs(section.groundM[middle] - (d1 * d2) / 16.99) < 0.01);
  // P.526-15 equation (2) in practical units: 550 sqrt(d1 d2 / ((d1 + d2) f)) m.
  const radius = 550 * Math.sqrt((d1 * d2) / (lengthKm * 150));
  assert.ok(Math.abs(section.fresnelM[middle] / radius - 1) < 0.01);
  const point = tightest(section);
  assert.ok(point.aboveM < 0 && point.clearance > 0);
});

test('labels keep clear of one another and of marks', () => {
  const marks = Array.from({ length: 40 }, (_, i) => ({ x: (i * 37) % 400, y: (i * 91) % 300, radius: 6, width: 70, height: 15 }));
  const corners = placeLabels(marks, { left: -10, top: -10, right: 420, bottom: 320 });
  const boxes = corners.flatMap((corner, i) => (corner ? [{ i, l: corner.x, t: corner.y, r: corner.x + 70, b: corner.y + 15 }] : []));
  assert.ok(boxes.length > 10);
  assert.ok(boxes.every((box) => box.l >= -10 && box.t >= -10 && box.r <= 420 && box.b <= 320));
  const crosses = (a, b) => a.l < b.r && b.l < a.r && a.t < b.b && b.t < a.b;
  for (const box of boxes) {
    assert.ok(boxes.every((other) => other === box || !crosses(box, other)));
    marks.forEach(({ x, y, radius }, i) => {
      assert.ok(i === box.i || !crosses(box, { l: x - radius, r: x + radius, t: y - radius, b: y + radius }));
    });
  }
});

test('positions are read as they are written', () => {
  assert.deepEqual(parsePlace('35.489252, 16.919453'), { latitude: 35.489252, longitude: 16.919453 });
  assert.deepEqual(parsePlace(' -35.5 -16.25 '), { latitude: -35.5, longitude: -16.25 });
  assert.equal(parsePlace('95, 16'), null);
  assert.equal(parsePlace('Ombrel Mill'), null);
  // GDAL's PROJ says where UTM zone 33, 674120 E 3928980 N lies; the square 33SXV has its corner at
  // 600000 E 3900000 N.
  const place = parsePlace('33S XV 74120 28980');
  const [longitude, latitude] = execFileSync('gdaltransform', ['-s_srs', 'EPSG:32633', '-t_srs', 'EPSG:4326', '-output_xy'], {
    input: '674120.5 3928980.5\n',
    encoding: 'utf8',
  })
    .trim()
    .split(' ')
    .map(Number);
  assert.ok(Math.abs(place.latitude - latitude) < 2e-5);
  assert.ok(Math.abs(place.longitude - longitude) < 2e-5);
  // Without its zone, the square of that name that is near; from across a zone's edge too.
  assert.equal(parsePlace('XV 74120 28980'), null);
  assert.deepEqual(parsePlace('XV7412028980', { latitude: 35.2, longitude: 17.5 }), place);
  assert.deepEqual(parsePlace('XV7412028980', { latitude: 36.1, longitude: 18.1 }), place);
  assert.equal(parsePlace('XV7412028980', { latitude: 52.0, longitude: 17.5 }), null);
  // By hand (IARU Region 1): F 5 x 20 and N 13 x 10 degrees from 180 W and 90 S, 3 x 2 and 1 x 1
  // degrees, p 15 x 5 and r 17 x 2.5 minutes; the middle.
  const locator = parsePlace('FN31pr');
  assert.ok(Math.abs(locator.latitude - (41 + (17 * 2.5 + 1.25) / 60)) < 1e-9);
  assert.ok(Math.abs(locator.longitude - (-74 + (15 * 5 + 2.5) / 60)) < 1e-9);
  assert.equal(parsePlace('FN31'), null);
  assert.equal(parsePlace('SN31pr'), null);
});
