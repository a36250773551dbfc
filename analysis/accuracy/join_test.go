package accuracy

import (
	"reflect"
	"testing"
	"unsafe"
)

// What a row counts, it must count over all cores: a field that join forgets
// would read as nothing wrong.
func TestJoinForgetsNothing(t *testing.T) {
	for _, c := range []struct{ sum, part any }{
		{&group{}, &group{}},
		{&score{}, &score{}},
		{&Heard{}, &Heard{}},
	} {
		one := reflect.ValueOf(c.part).Elem()
		fill(one)
		switch sum := c.sum.(type) {
		case *group:
			sum.join(c.part.(*group))
		case *score:
			sum.join(c.part.(*score))
		case *Heard:
			sum.join(c.part.(*Heard))
		}
		empty(t, one.Type().Name(), reflect.ValueOf(c.sum).Elem())
	}
}

// fill gives every number and list below v something to count.
func fill(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(open(v.Field(i)))
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(open(v.Index(i)))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
	case reflect.Int:
		v.SetInt(1)
	case reflect.Float64:
		v.SetFloat(1)
	}
}

// open lets a field that is not exported be written.
func open(v reflect.Value) reflect.Value {
	return reflect.NewAt(v.Type(), unsafe.Pointer(v.UnsafeAddr())).Elem()
}

// empty complains of every number and list below v that is nothing still.
func empty(t *testing.T, name string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			empty(t, name+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Array:
		for i := range v.Len() {
			empty(t, name, v.Index(i))
		}
	case reflect.Slice, reflect.Int, reflect.Float64:
		if v.IsZero() {
			t.Errorf("%s: got nothing after join, wanted what was joined", name)
		}
	}
}
