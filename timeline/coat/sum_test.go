package coat

import (
	"math"
	"reflect"
	"testing"

	"thatch/timeline"
)

// Whatever is changed in a file, however deep, changes its sum; and changed back, it is what it was.
func TestEveryValueOfAFileIsInItsSum(t *testing.T) {
	var f File
	fill(reflect.ValueOf(&f).Elem(), 3)
	was := Sum(f)
	changed := 0
	var walk func(v reflect.Value, path string, set func())
	walk = func(v reflect.Value, path string, set func()) {
		try := func(change func(), back func()) {
			changed++
			change()
			set()
			if Sum(f) == was {
				t.Errorf("%s: the same sum", path)
			}
			back()
			set()
			if Sum(f) != was {
				t.Fatalf("%s: another sum when it was changed back", path)
			}
		}
		old := reflect.New(v.Type()).Elem()
		old.Set(v)
		put := func() { v.Set(old) }
		switch v.Kind() {
		case reflect.Bool:
			try(func() { v.SetBool(!v.Bool()) }, put)
		case reflect.Int, reflect.Int32, reflect.Int64:
			try(func() { v.SetInt(v.Int() + 1) }, put)
		case reflect.Uint8:
			try(func() { v.SetUint(v.Uint() + 1) }, put)
		case reflect.Float64:
			try(func() { v.SetFloat(math.Nextafter(v.Float(), 1e9)) }, put)
		case reflect.String:
			try(func() { v.SetString(v.String() + "x") }, put)
		case reflect.Pointer:
			try(func() { v.SetZero() }, put)
			walk(v.Elem(), path, set)
		case reflect.Slice:
			try(func() { v.Set(v.Slice(0, v.Len()-1)) }, put)
			for i := range v.Len() {
				walk(v.Index(i), path+"[]", set)
			}
		case reflect.Array:
			for i := range v.Len() {
				walk(v.Index(i), path+"[]", set)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i), path+"."+v.Type().Field(i).Name, set)
			}
		case reflect.Map:
			for _, k := range v.MapKeys() {
				value := v.MapIndex(k)
				try(func() { v.SetMapIndex(k, reflect.Value{}) }, func() { v.SetMapIndex(k, value) })
				own := reflect.New(value.Type()).Elem()
				own.Set(value)
				walk(own, path+"["+k.String()+"]", func() { v.SetMapIndex(k, own); set() })
			}
		default:
			t.Fatalf("%s is a %s: Sum does not know it", path, v.Kind())
		}
	}
	walk(reflect.ValueOf(&f).Elem(), "File", func() {})
	if changed < 190 {
		t.Errorf("only %d values were changed", changed)
	}
}

// fill gives every value of a type something that is not nothing; maps and slices two of it.
func fill(v reflect.Value, n int64) {
	switch v.Kind() {
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int32, reflect.Int64:
		v.SetInt(n)
	case reflect.Uint8:
		v.SetUint(uint64(n))
	case reflect.Float64:
		v.SetFloat(float64(n) + 0.25)
	case reflect.String:
		v.SetString(string(rune('a' + n)))
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n+1)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range 2 {
			fill(v.Index(i), n+int64(i))
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), n+int64(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), n+int64(i))
		}
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		for i := range 2 {
			k, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
			fill(k, n+int64(i))
			fill(value, n+int64(i))
			v.SetMapIndex(k, value)
		}
	}
}

// What lies side by side does not run together, and the order of a map is none.
func TestNoTwoValuesHaveTheSameSum(t *testing.T) {
	type pair struct{ A, B []string }
	sums := map[[32]byte]any{}
	for _, v := range []any{
		pair{[]string{"a", "b"}, nil}, pair{[]string{"a"}, []string{"b"}}, pair{nil, []string{"a", "b"}}, pair{[]string{"ab"}, nil}, pair{nil, nil},
		pair{[]string{""}, nil}, pair{nil, []string{""}},
		map[timeline.Zone][]int{"a": {1}, "b": {}}, map[timeline.Zone][]int{"a": {}, "b": {1}}, map[timeline.Zone][]int{"a": {1}},
		[]*int{nil, nil}, []*int{nil, new(int)}, []*int{new(int), nil},
	} {
		sum := Sum(v)
		if was, ok := sums[sum]; ok {
			t.Errorf("%#v and %#v", was, v)
		}
		sums[sum] = v
	}
	m := map[string]int{}
	for i := range 40 {
		m[string(rune('a'+i))] = i
	}
	was := Sum(m)
	for range 20 {
		if Sum(m) != was {
			t.Fatal("a map's order is in its sum")
		}
	}
}

func BenchmarkSumOfAFile(b *testing.B) {
	var f File
	fill(reflect.ValueOf(&f).Elem(), 3)
	for b.Loop() {
		Sum(f)
	}
}
