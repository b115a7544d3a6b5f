package schema

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
)

var (
	marshaler = reflect.TypeFor[json.Marshaler]()
	texts     = reflect.TypeFor[encoding.TextMarshaler]()
)

// Of is the schema of what a command prints with --json, which is a Go value:
// the schema follows from its type, so that it cannot fall behind. What writes
// its own JSON is a number or null where it is a number, else anything.
func Of(name string, t reflect.Type) []byte {
	s := fmt.Sprintf(`{"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": "urn:calsplice:%s:1", "title": "calsplice %s --json", %s`,
		name, strings.ReplaceAll(name, "-", " "), strings.TrimPrefix(of(t), "{"))
	return indent(s)
}

func of(t reflect.Type) string {
	own := t.Implements(marshaler) || reflect.PointerTo(t).Implements(marshaler)
	switch kind := t.Kind(); {
	case own && (kind == reflect.Float32 || kind == reflect.Float64):
		return `{"type": ["number", "null"]}`
	case kind == reflect.Pointer:
		return fmt.Sprintf(`{"anyOf": [{"type": "null"}, %s]}`, of(t.Elem()))
	case own:
		return `{}`
	case kind == reflect.String || t.Implements(texts):
		return `{"type": "string"}`
	case kind == reflect.Bool:
		return `{"type": "boolean"}`
	case kind >= reflect.Int && kind <= reflect.Uint64:
		return `{"type": "integer"}`
	case kind == reflect.Float32 || kind == reflect.Float64:
		return `{"type": "number"}`
	case kind == reflect.Array:
		return fmt.Sprintf(`{"type": "array", "minItems": %d, "maxItems": %d, "items": %s}`, t.Len(), t.Len(), of(t.Elem()))
	case kind == reflect.Slice:
		return fmt.Sprintf(`{"type": ["array", "null"], "items": %s}`, of(t.Elem()))
	case kind == reflect.Map:
		return fmt.Sprintf(`{"type": ["object", "null"], "additionalProperties": %s}`, of(t.Elem()))
	case kind == reflect.Struct:
		var properties, required []string
		fields(t, &properties, &required)
		return fmt.Sprintf(`{"type": "object", "required": [%s], "properties": {%s}, "additionalProperties": false}`,
			strings.Join(required, ", "), strings.Join(properties, ", "))
	}
	return `{}`
}

func fields(t reflect.Type, properties, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && tag == "" && f.Type.Kind() == reflect.Struct:
			fields(f.Type, properties, required)
			continue
		case !f.IsExported() || tag == "-":
			continue
		case tag == "":
			tag = f.Name
		}
		*properties = append(*properties, fmt.Sprintf("%q: %s", tag, of(f.Type)))
		if !strings.Contains(options, "omit") {
			*required = append(*required, fmt.Sprintf("%q", tag))
		}
	}
}
