package view

import (
	"reflect"

	"calsplice/tables"
)

// Cleaned is a view, or a part of one, with every text in it cleaned by
// [tables.Clean]. The renderers print it and nothing else. A field with the tag
// clean:"no" stays as it is: a script writes it to a file.
func Cleaned[T any](v T) T {
	clean(reflect.ValueOf(&v).Elem())
	return v
}

// clean cleans a value in its place. What it leads to may be somebody else's, and
// is copied first.
func clean(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(tables.Clean(v.String()))
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() && f.Tag.Get("clean") != "no" {
				clean(v.Field(i))
			}
		}
	case reflect.Pointer:
		if !v.IsNil() {
			c := reflect.New(v.Type().Elem())
			c.Elem().Set(v.Elem())
			clean(c.Elem())
			v.Set(c)
		}
	case reflect.Slice:
		if !v.IsNil() && v.Type().Elem().Kind() != reflect.Float64 {
			c := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
			reflect.Copy(c, v)
			for i := range c.Len() {
				clean(c.Index(i))
			}
			v.Set(c)
		}
	}
}
