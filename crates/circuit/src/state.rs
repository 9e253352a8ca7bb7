//! Where Newton's method stands: node voltages, and what each device keeps between steps.

use crate::system::System;

/// A junction device's memory: where it was last evaluated, and its inner voltages.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct DeviceState {
    /// Junction voltages of the last evaluation: a diode's one, or base–emitter and base–collector.
    pub(crate) at: [f64; 2],
    /// Inner node voltages: a diode's inner anode, or a transistor's inner collector and base.
    pub(crate) inner: [f64; 2],
    /// How the inner voltages follow the outer ones: a constant and up to three slopes each.
    pub(crate) follow: [[f64; 4]; 2],
}

/// Node voltages and device memories.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct State {
    pub(crate) x: Vec<f64>,
    pub(crate) diodes: Vec<DeviceState>,
    pub(crate) bipolars: Vec<DeviceState>,
    /// The next evaluation takes the junction voltages as they stand in `at`, whatever `x` says.
    pub(crate) fresh: bool,
}

impl State {
    /// Everything at 0 V, every junction about to be tried at its knee.
    pub(crate) fn cold(system: &System) -> Self {
        let mut state = Self::near(system, vec![0.0; system.unknown.len()]);
        state.fresh = true;
        state
    }

    /// At given node voltages, held nodes at theirs.
    pub(crate) fn near(system: &System, mut x: Vec<f64>) -> Self {
        x.resize(system.unknown.len(), 0.0);
        hold(system, &mut x, 1.0);
        let diodes = system
            .diodes
            .iter()
            .map(|slot| {
                let knee = system.diode_laws[slot.law as usize].knee();
                DeviceState { at: [knee, 0.0], inner: [x[slot.a as usize], 0.0], ..DeviceState::default() }
            })
            .collect();
        let bipolars = system
            .bipolars
            .iter()
            .map(|slot| {
                let knee = system.bipolar_laws[slot.law as usize].knee();
                let [c, b, _] = slot.nodes;
                DeviceState {
                    at: [knee, 0.0],
                    inner: [x[c as usize], x[b as usize]],
                    ..DeviceState::default()
                }
            })
            .collect();
        Self { x, diodes, bipolars, fresh: false }
    }

    pub(crate) fn is_finite(&self) -> bool {
        self.x.iter().all(|x| x.is_finite())
    }
}

/// Puts held nodes at their voltages, times `scale`.
pub(crate) fn hold(system: &System, x: &mut [f64], scale: f64) {
    for (node, volts) in &system.held {
        x[*node as usize] = volts * scale;
    }
}
