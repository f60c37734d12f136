//! A fluid, and the metal around it, that get warmer or colder: two lumped bodies, each with one temperature.
//! Source: the lumped-capacitance model of any text on heat transfer; the figures are invented.

use super::chance::Chance;

/// Rates in 1/s are conductances over the heat capacity of the fluid.
#[derive(Clone, Debug)]
pub struct Bodies {
    pub fluid: f64,
    pub metal: f64,
    pub bay: f64,
    /// Heat capacity of the metal over that of the fluid; 0 for a single body.
    pub ratio: f64,
    /// Between fluid and metal.
    pub coupling: f64,
    /// To the bay.
    pub fluid_loss: f64,
    pub metal_loss: f64,
    /// What goes into the fluid, in K/s.
    pub heat: f64,
    /// How the heat trembles: a share of itself, and for how long (an Ornstein-Uhlenbeck process).
    pub tremble: f64,
    pub tremble_for: f64,
    pub trembling: f64,
}

/// What happens from one moment on: each conductance and the heat times a factor, the bay by so many degrees.
#[derive(Clone, Copy, Debug)]
pub struct Change {
    pub heat: f64,
    pub loss: f64,
    pub bay: f64,
}

impl Bodies {
    pub fn step(&mut self, dt: f64, chance: &mut Chance) {
        if self.tremble > 0.0 {
            let left = (-dt / self.tremble_for).exp();
            self.trembling = self.trembling * left + self.tremble * (1.0 - left * left).sqrt() * chance.normal();
        }
        let heat = self.heat * (1.0 + self.trembling);
        let across = if self.ratio > 0.0 { self.coupling * (self.fluid - self.metal) } else { 0.0 };
        let fluid = heat - across - self.fluid_loss * (self.fluid - self.bay);
        let metal =
            if self.ratio > 0.0 { (across - self.metal_loss * (self.metal - self.bay)) / self.ratio } else { 0.0 };
        self.fluid += dt * fluid;
        self.metal += dt * metal;
    }

    pub fn change(&mut self, change: Change) {
        self.heat *= change.heat;
        self.fluid_loss *= change.loss;
        self.metal_loss *= change.loss;
        self.bay += change.bay;
    }
}
