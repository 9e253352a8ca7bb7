//! Linear stand-ins of the devices at the present voltages, stamped into matrix and residual.
//!
//! Newton runs on steps: `f` collects the current leaving each node at the present voltages, by the
//! linear stand-in where a junction step was shortened. A device with series resistances has inner
//! nodes; their equations are eliminated here, and their own step follows from the outer one.

use crate::state::{DeviceState, State};
use crate::system::{BipolarSlot, DiodeSlot, MosfetSlot, Store, System};
use dryjoint_parts::{BipolarLaw, DiodeLaw, Leakage, THERMAL_VOLTAGE};
use dryjoint_units::Farads;

/// Time's share in the equations: i = rate·(Q(v) − before) + history, per charge. A rate of zero is DC.
/// The charge before is taken off first: rate·Q alone may be a million amps, whose rounding would drown
/// the currents of a gate.
#[derive(Clone, Copy)]
pub(crate) struct Motion<'a> {
    pub(crate) rate: f64,
    pub(crate) before: &'a [f64],
    pub(crate) history: &'a [f64],
}

/// DC.
pub(crate) const STILL: Motion = Motion { rate: 0.0, before: &[], history: &[] };

/// Share of a charge that rounding may take, counted in the unit of `ROUNDING` in `newton.rs`.
const CHARGE_ROUNDING: f64 = 1e-3;

impl Motion<'_> {
    /// The current into charge number `k`, which now holds `q`.
    #[inline]
    fn flow(&self, k: usize, q: f64, found: &mut Found) -> f64 {
        found.greatest = found.greatest.max(CHARGE_ROUNDING * (self.rate * q).abs());
        self.rate * (q - self.before[k]) + self.history[k]
    }
}

/// What the evaluation found besides matrix and residual.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Found {
    /// A junction step was shortened: the residual is not the true one.
    pub(crate) limited: bool,
    /// Greatest residual of an inner node, amps.
    pub(crate) inner: f64,
    /// Greatest current in any element: how far rounding reaches.
    pub(crate) greatest: f64,
}

/// A junction step so short that it changes no current to speak of.
const SAME: f64 = 1e-9;

/// Shortens a junction's step where the exponential would run away, after Nagel (1975): past the knee
/// the current, not the voltage, takes the step.
fn shorten(now: f64, before: f64, scale: f64, knee: f64) -> f64 {
    if now <= knee || (now - before).abs() <= 2.0 * scale {
        return now;
    }
    if before > 0.0 {
        let rise = (now - before) / scale;
        if rise > -1.0 { before + scale * (1.0 + rise).ln() } else { knee }
    } else {
        scale * (now / scale).ln()
    }
}

/// The same for a diode, whose breakdown runs away on the other side.
fn shorten_diode(law: &DiodeLaw, now: f64, before: f64) -> f64 {
    if now < -law.bv + 10.0 * THERMAL_VOLTAGE {
        let (now, before) = (-(now + law.bv), -(before + law.bv));
        let knee = 10.0 * THERMAL_VOLTAGE;
        return -shorten(now, before, THERMAL_VOLTAGE, knee) - law.bv;
    }
    shorten(now, before, law.scale, law.knee())
}

/// Stamps every device.
pub(crate) fn stamp(
    system: &System,
    state: &mut State,
    motion: Motion,
    values: &mut [f64],
    f: &mut [f64],
) -> Found {
    let mut found = Found::default();
    let State { x, diodes, bipolars, fresh } = state;
    let mut charge = 0;
    if motion.rate != 0.0 {
        for slot in &system.stores {
            store(slot, motion, charge, x, values, f, &mut found);
            charge += 1;
        }
    } else {
        charge = system.stores.len();
    }
    for (slot, kept) in system.diodes.iter().zip(diodes) {
        let law = &system.diode_laws[slot.law as usize];
        diode(slot, law, kept, *fresh, motion, charge, x, values, f, &mut found);
        charge += 1;
    }
    for (slot, kept) in system.bipolars.iter().zip(bipolars) {
        let law = &system.bipolar_laws[slot.law as usize];
        bipolar(slot, law, kept, *fresh, motion, charge, x, values, f, &mut found);
        charge += 2;
    }
    for slot in &system.mosfets {
        mosfet(slot, x, values, f);
    }
    found.limited |= *fresh;
    *fresh = false;
    found
}

fn add_pair(places: &[u32; 4], g: f64, values: &mut [f64]) {
    values[places[0] as usize] += g;
    values[places[1] as usize] -= g;
    values[places[2] as usize] -= g;
    values[places[3] as usize] += g;
}

fn store(
    slot: &Store,
    motion: Motion,
    charge: usize,
    x: &[f64],
    values: &mut [f64],
    f: &mut [f64],
    found: &mut Found,
) {
    let g = motion.rate * slot.c;
    let i = motion.flow(charge, slot.c * (x[slot.a as usize] - x[slot.b as usize]), found);
    found.greatest = found.greatest.max(i.abs());
    f[slot.a as usize] += i;
    f[slot.b as usize] -= i;
    add_pair(&slot.places, g, values);
}

#[allow(clippy::too_many_arguments, reason = "the inner loop: one slot, its memory, and where it writes")]
#[inline]
fn diode(
    slot: &DiodeSlot,
    law: &DiodeLaw,
    kept: &mut DeviceState,
    fresh: bool,
    motion: Motion,
    charge: usize,
    x: &[f64],
    values: &mut [f64],
    f: &mut [f64],
    found: &mut Found,
) {
    let (a, k) = (slot.a as usize, slot.k as usize);
    let anode = if slot.gs == 0.0 { x[a] } else { kept.inner[0] };
    let v = anode - x[k];
    let at = if fresh { kept.at[0] } else { shorten_diode(law, v, kept.at[0]) };
    found.limited |= (at - v).abs() > SAME;
    kept.at[0] = at;
    let (mut i, mut g) = law.current(at);
    if motion.rate != 0.0 {
        let (q, c) = law.charge(at);
        i += motion.flow(charge, q, found);
        g += motion.rate * c;
    }
    i += g * (v - at);
    found.greatest = found.greatest.max(i.abs());
    if slot.gs == 0.0 {
        f[a] += i;
        f[k] -= i;
        add_pair(&slot.places, g, values);
        return;
    }
    let gs = slot.gs;
    let through = gs * (x[a] - anode);
    let r = i - through;
    found.inner = found.inner.max(r.abs());
    let over = 1.0 / (g + gs);
    kept.follow[0] = [-r * over, gs * over, g * over, 0.0];
    f[a] += through + gs * r * over;
    f[k] += g * r * over - i;
    add_pair(&slot.places, gs * g * over, values);
}

#[allow(clippy::too_many_arguments, reason = "the inner loop: one slot, its memory, and where it writes")]
#[inline]
fn bipolar(
    slot: &BipolarSlot,
    law: &BipolarLaw,
    kept: &mut DeviceState,
    fresh: bool,
    motion: Motion,
    charge: usize,
    x: &[f64],
    values: &mut [f64],
    f: &mut [f64],
    found: &mut Found,
) {
    let nodes = slot.nodes.map(|node| node as usize);
    let [outer_c, outer_b, e] = nodes.map(|node| x[node]);
    let inner = slot.gb != 0.0;
    let [c, b] = if inner { kept.inner } else { [outer_c, outer_b] };
    let s = slot.sign;
    let (vbe, vbc) = (s * (b - e), s * (b - c));
    let [mut be, mut bc] = kept.at;
    if !fresh {
        let knee = law.knee();
        be = shorten(vbe, be, law.thermal_voltage(), knee);
        bc = shorten(vbc, bc, law.thermal_voltage(), knee);
        kept.at = [be, bc];
    }
    let (off_be, off_bc) = (vbe - be, vbc - bc);
    found.limited |= off_be.abs() > SAME || off_bc.abs() > SAME;
    let mut at = law.currents(be, bc);
    if motion.rate != 0.0 {
        let q = law.charges(be, bc);
        let into_be = motion.flow(charge, q.qbe, found);
        let into_bc = motion.flow(charge + 1, q.qbc, found);
        at.ib += into_be + into_bc;
        at.ic -= into_bc;
        at.ib_vbe += motion.rate * q.qbe_vbe;
        at.ib_vbc += motion.rate * (q.qbe_vbc + q.qbc_vbc);
        at.ic_vbc -= motion.rate * q.qbc_vbc;
    }
    let ic = s * (at.ic + at.ic_vbe * off_be + at.ic_vbc * off_bc);
    let ib = s * (at.ib + at.ib_vbe * off_be + at.ib_vbc * off_bc);
    found.greatest = found.greatest.max(ic.abs()).max(ib.abs());
    // Derivatives of the currents into collector and base by the voltages of collector, base, emitter.
    let yc = [-at.ic_vbc, at.ic_vbe + at.ic_vbc, -at.ic_vbe];
    let yb = [-at.ib_vbc, at.ib_vbe + at.ib_vbc, -at.ib_vbe];
    let ye = [0, 1, 2].map(|k| -yc[k] - yb[k]);
    if !inner {
        f[nodes[0]] += ic;
        f[nodes[1]] += ib;
        f[nodes[2]] -= ic + ib;
        for (row, y) in [yc, yb, ye].iter().enumerate() {
            for column in 0..3 {
                values[slot.places[3 * row + column] as usize] += y[column];
            }
        }
        return;
    }
    // Inner equations: r_c = ic − gc·(C − c), r_b = ib − gb·(B − b). Their 2×2 matrix P inverted
    // gives the inner step from the outer one: d = −P·r + P·(gc·dC, gb·dB) − P·(yc_e, yb_e)·dE.
    let (gb, gc) = (slot.gb, slot.gc);
    let (through_c, through_b) = (gc * (outer_c - c), gb * (outer_b - b));
    let (rc, rb) = (ic - through_c, ib - through_b);
    found.inner = found.inner.max(rc.abs()).max(rb.abs());
    let [[a11, a12], [a21, a22]] = [[yc[0] + gc, yc[1]], [yb[0], yb[1] + gb]];
    let over = 1.0 / (a11 * a22 - a12 * a21);
    let p = [[a22 * over, -a12 * over], [-a21 * over, a11 * over]];
    for (row, follow) in p.iter().zip(&mut kept.follow) {
        *follow =
            [-(row[0] * rc + row[1] * rb), row[0] * gc, row[1] * gb, -(row[0] * yc[2] + row[1] * yb[2])];
    }
    let [fc, fb] = kept.follow;
    f[nodes[0]] += through_c - gc * fc[0];
    f[nodes[1]] += through_b - gb * fb[0];
    f[nodes[2]] += ye[0] * fc[0] + ye[1] * fb[0] - ic - ib;
    for k in 0..3 {
        let (by_c, by_b) = (fc[k + 1], fb[k + 1]);
        let own =
            [if k == 0 { gc } else { 0.0 }, if k == 1 { gb } else { 0.0 }, if k == 2 { ye[2] } else { 0.0 }];
        values[slot.places[k] as usize] += own[0] - gc * by_c;
        values[slot.places[3 + k] as usize] += own[1] - gb * by_b;
        values[slot.places[6 + k] as usize] += own[2] + ye[0] * by_c + ye[1] * by_b;
    }
}

fn mosfet(slot: &MosfetSlot, x: &[f64], values: &mut [f64], f: &mut [f64]) {
    let nodes = slot.nodes.map(|node| node as usize);
    let [d, g, s] = nodes.map(|node| x[node]);
    // A square law needs no shortened steps.
    let (i, by_gate, by_drain) = slot.law.current(slot.sign * (g - s), slot.sign * (d - s));
    f[nodes[0]] += slot.sign * i;
    f[nodes[2]] -= slot.sign * i;
    let y = [by_drain, by_gate, -by_drain - by_gate];
    for column in 0..3 {
        values[slot.places[column] as usize] += y[column];
        values[slot.places[6 + column] as usize] -= y[column];
    }
}

/// Moves node voltages by `dx` (per unknown, times `share`) and lets the inner voltages follow.
pub(crate) fn advance(system: &System, state: &mut State, dx: &[f64]) {
    let step = |node: u32| system.unknown[node as usize];
    let by = |node: u32| dx.get(step(node) as usize).copied().unwrap_or(0.0);
    for (slot, kept) in system.diodes.iter().zip(&mut state.diodes) {
        if slot.gs != 0.0 {
            let [c, a, k, _] = kept.follow[0];
            kept.inner[0] += c + a * by(slot.a) + k * by(slot.k);
        }
    }
    for (slot, kept) in system.bipolars.iter().zip(&mut state.bipolars) {
        if slot.gb != 0.0 {
            let [dc, db, de] = slot.nodes.map(by);
            for (inner, [k, c, b, e]) in kept.inner.iter_mut().zip(kept.follow) {
                *inner += k + c * dc + b * db + e * de;
            }
        }
    }
    for (node, dx) in system.node.iter().zip(dx) {
        state.x[*node as usize] += dx;
    }
}

/// The true charges at the present voltages, in the order of [`System::charge_count`].
pub(crate) fn charges(system: &System, state: &State) -> Vec<f64> {
    let x = |node: u32| state.x[node as usize];
    let mut charges = Vec::with_capacity(system.charge_count());
    charges.extend(system.stores.iter().map(|slot| slot.c * (x(slot.a) - x(slot.b))));
    for (slot, kept) in system.diodes.iter().zip(&state.diodes) {
        let anode = if slot.gs == 0.0 { x(slot.a) } else { kept.inner[0] };
        charges.push(system.diode_laws[slot.law as usize].charge(anode - x(slot.k)).0);
    }
    for (slot, kept) in system.bipolars.iter().zip(&state.bipolars) {
        let [c, b, e] = slot.nodes.map(x);
        let [c, b] = if slot.gb == 0.0 { [c, b] } else { kept.inner };
        let q = system.bipolar_laws[slot.law as usize].charges(slot.sign * (b - e), slot.sign * (b - c));
        charges.push(q.qbe);
        charges.push(q.qbc);
    }
    charges
}

/// Spreads a current per charge over the nodes its charge lies between.
pub(crate) fn spread(system: &System, currents: &[f64], f: &mut [f64]) {
    let mut currents = currents.iter();
    let mut put = |a: u32, b: u32, f: &mut [f64]| {
        let i = currents.next().copied().unwrap_or(0.0);
        f[a as usize] += i;
        f[b as usize] -= i;
    };
    for slot in &system.stores {
        put(slot.a, slot.b, f);
    }
    for slot in &system.diodes {
        put(slot.a, slot.k, f);
    }
    for slot in &system.bipolars {
        let [c, b, e] = slot.nodes;
        put(b, e, f);
        put(b, c, f);
    }
}

/// The true direct currents into each element's ends at the present voltages.
pub(crate) fn currents(system: &System, state: &State, network: &crate::Network) -> Vec<[f64; 3]> {
    use crate::network::{JUMPER, Kind};
    use dryjoint_ids::Id;
    let x = |node: u32| state.x[node as usize];
    let mut currents: Vec<[f64; 3]> = network
        .elements
        .iter()
        .map(|element| {
            let across =
                |element| state.x[network.end(element, 0).index()] - state.x[network.end(element, 1).index()];
            let i = match element.kind {
                Kind::Resistor(ohms) if !ohms.is_nan() => across(element) / ohms.max(1e-6),
                Kind::Contact(true) => across(element) / JUMPER.0,
                Kind::Electrolytic(farads) => across(element) / Leakage::of(Farads(farads)).leak.0,
                Kind::Current(amps) => amps,
                _ => 0.0,
            };
            [i, -i, 0.0]
        })
        .collect();
    for (slot, kept) in system.diodes.iter().zip(&state.diodes) {
        let anode = if slot.gs == 0.0 { x(slot.a) } else { kept.inner[0] };
        let (i, _) = system.diode_laws[slot.law as usize].current(anode - x(slot.k));
        let row = &mut currents[slot.element as usize];
        let element = &network.elements[slot.element as usize];
        if matches!(element.kind, Kind::Electrolytic(_)) {
            row[0] -= i;
            row[1] += i;
        } else if !network.is_mosfet(element) {
            *row = [i, -i, 0.0];
        } else {
            // a MOSFET's body diode lies between its ends 0 and 2
            let into_drain = if network.end(element, 0).index() as u32 == slot.a { i } else { -i };
            row[0] += into_drain;
            row[2] -= into_drain;
        }
    }
    for (slot, kept) in system.bipolars.iter().zip(&state.bipolars) {
        let [c, b, e] = slot.nodes.map(x);
        let [c, b] = if slot.gb == 0.0 { [c, b] } else { kept.inner };
        let at = system.bipolar_laws[slot.law as usize].currents(slot.sign * (b - e), slot.sign * (b - c));
        currents[slot.element as usize] =
            [slot.sign * at.ic, slot.sign * at.ib, -slot.sign * (at.ic + at.ib)];
    }
    for slot in &system.mosfets {
        let [d, g, s] = slot.nodes.map(x);
        let (i, ..) = slot.law.current(slot.sign * (g - s), slot.sign * (d - s));
        let row = &mut currents[slot.element as usize];
        row[0] += slot.sign * i;
        row[2] -= slot.sign * i;
    }
    currents
}
