//! PLACEHOLDER until the render room is written (to be overwritten).
#![allow(missing_docs)]
use crate::record::Record;
pub enum Format {
    Text,
    Markdown,
    Html,
}
impl Format {
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "text" => Some(Self::Text),
            "md" => Some(Self::Markdown),
            "html" => Some(Self::Html),
            _ => None,
        }
    }
}
pub fn render(_: &Record, _: Format) -> Result<String, String> {
    Ok(String::new())
}
pub fn render_with(_: &Record, _: &str) -> Result<String, String> {
    Ok(String::new())
}
