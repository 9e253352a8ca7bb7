//! A JSON object whose keys keep the board's own order.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Serialize, Serializer};
use std::borrow::Cow;

/// Names with values, in the order given.
#[derive(Clone, Debug, PartialEq)]
pub struct Named<V>(pub Vec<(String, V)>);

impl<V> FromIterator<(String, V)> for Named<V> {
    fn from_iter<T: IntoIterator<Item = (String, V)>>(rows: T) -> Self {
        Self(rows.into_iter().collect())
    }
}

impl<V: Serialize> Serialize for Named<V> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

impl<V: JsonSchema> JsonSchema for Named<V> {
    fn schema_name() -> Cow<'static, str> {
        format!("Named_{}", V::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let value = generator.subschema_for::<V>();
        schemars::json_schema!({ "type": "object", "additionalProperties": value })
    }
}

#[cfg(test)]
mod tests {
    use super::Named;

    #[test]
    fn keys_stay_in_order() {
        let named: Named<u32> = [("b".to_owned(), 1), ("a".to_owned(), 2)].into_iter().collect();
        assert_eq!(serde_json::to_string(&named).unwrap(), r#"{"b":1,"a":2}"#);
    }
}
