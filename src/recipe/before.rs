//! Names of what is known before a session's first entry: the device of the register, and who runs the session.
//!
//! Never in here: names of a recipe's own (see `scope`). Changes when something else is known then.

use crate::plan::{DEVICE, DeviceField, SESSION, Type};
use crate::text::Code;

use super::schema::nearest;
use super::scope::{Lookup, Source};

/// What is known when a session begins: a field of the device, as the register has it, or of the session.
pub(super) fn known_before(name: &str, first: &str) -> Lookup {
    if let Some(known) = DeviceField::from_name(name) {
        return Lookup::Value(Some(Type::Text), Source::Device(known));
    }
    let field = name.split_once('.').map(|(_, field)| field);
    if first == SESSION {
        let message = format!("nothing of the session is called `{name}`");
        let help = format!("`{}` is the id of who runs it", DeviceField::By.name());
        return Lookup::Refused(Code::UnknownName, message, help);
    }
    let message = match field {
        Some(field) => format!("the register of devices has no field `{field}`"),
        None => format!("`{name}` is the whole device"),
    };
    let words = DeviceField::of_register().map(DeviceField::word);
    let help = match field.and_then(|field| nearest(field, words)) {
        Some(near) => format!("the nearest field is `{DEVICE}.{near}`"),
        None => {
            let names = DeviceField::of_register().map(|f| format!("`{}`", f.name()));
            let names: Vec<String> = names.collect();
            format!("name a field of it: {}", names.join(", "))
        }
    };
    Lookup::Refused(Code::UnknownName, message, help)
}
