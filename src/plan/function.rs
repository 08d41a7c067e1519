//! The functions of the language by name.
//!
//! Never in here: what they compute. Changes when a function is added.

macro_rules! functions {
    ($($variant:ident $name:literal)*) => {
        /// A function of the language.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Function {
            $(#[doc = concat!("`", $name, "`")] $variant,)*
        }

        /// All names, for the nearest one to a mistyped name.
        pub const FUNCTION_NAMES: &[&str] = &[$($name,)*];

        impl Function {
            /// Whether it gives a figure of a logged series.
            #[must_use]
            pub fn is_of_series(self) -> bool {
                use Function as F;
                matches!(
                    self,
                    F::MeanFlow | F::StartupError | F::TrumpetHigh | F::TrumpetLow | F::Peak | F::FirstTime | F::VolumeAfter
                )
            }

            /// The function of this name.
            #[must_use]
            pub fn from_name(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$variant),)* _ => None }
            }

            /// Its name.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }
        }
    };
}

functions! {
    Within "within" Between "between" Deviation "deviation" If "if"
    Abs "abs" Min "min" Max "max" Mean "mean" Sum "sum" Sd "sd" Range "range"
    Count "count" First "first" Last "last" Nth "nth"
    Round "round" Floor "floor" Ceil "ceil" Sqrt "sqrt" Ln "ln" Exp "exp" Convert "convert"
    WaterDensity "water_density" AirDensity "air_density" ZFactor "z_factor" WeighedVolume "weighed_volume"
    ColumnPressure "column_pressure" DripRate "drip_rate" Honoured "honoured"
    MeanFlow "mean_flow" StartupError "startup_error" TrumpetHigh "trumpet_high" TrumpetLow "trumpet_low"
    Peak "peak" FirstTime "first_time" VolumeAfter "volume_after"
    Lower "lower" Uncertain "uncertain" Expanded "expanded" Risk "risk"
}
