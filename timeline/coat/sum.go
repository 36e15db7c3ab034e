package coat

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"sync"
)

// Sum names values by their content, all of it, fields that are not exported too: what has the same sum may stand for each
// other within one run of the program. Pages ask for it by the dozen, and their JSON took ten times as long.
//
// It knows booleans, numbers, texts, and pointers, arrays, slices, structs and maps by text of these; of anything else it
// panics. Two values of different types may have the same sum.
func Sum(values ...any) [sha256.Size]byte {
	buf := sums.Get().(*[]byte)
	b := (*buf)[:0]
	for _, v := range values {
		b = appendContent(b, reflect.ValueOf(v))
	}
	sum := sha256.Sum256(b)
	*buf = b
	sums.Put(buf)
	return sum
}

var sums = sync.Pool{New: func() any { b := make([]byte, 0, 16<<10); return &b }}

// appendContent writes a value so that no two of a type are written alike: every length stands before what has it.
func appendContent(b []byte, v reflect.Value) []byte {
	switch v.Kind() {
	case reflect.Bool:
		if v.Bool() {
			return append(b, 1)
		}
		return append(b, 0)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return binary.AppendVarint(b, v.Int())
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return binary.AppendUvarint(b, v.Uint())
	case reflect.Float32, reflect.Float64:
		return binary.LittleEndian.AppendUint64(b, math.Float64bits(v.Float()))
	case reflect.String:
		s := v.String()
		return append(binary.AppendUvarint(b, uint64(len(s))), s...)
	case reflect.Pointer:
		if v.IsNil() {
			return append(b, 0)
		}
		return appendContent(append(b, 1), v.Elem())
	case reflect.Slice:
		b = binary.AppendUvarint(b, uint64(v.Len()))
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return append(b, v.Bytes()...)
		}
		for i := range v.Len() {
			b = appendContent(b, v.Index(i))
		}
		return b
	case reflect.Array:
		for i := range v.Len() {
			b = appendContent(b, v.Index(i))
		}
		return b
	case reflect.Struct:
		for i := range v.NumField() {
			b = appendContent(b, v.Field(i))
		}
		return b
	case reflect.Map:
		keys := v.MapKeys()
		slices.SortFunc(keys, func(a, b reflect.Value) int { return strings.Compare(textOf(a), textOf(b)) })
		b = binary.AppendUvarint(b, uint64(len(keys)))
		for _, k := range keys {
			b = appendContent(b, k)
			b = appendContent(b, v.MapIndex(k))
		}
		return b
	}
	panic(fmt.Sprintf("coat: no sum of a %s", v.Kind()))
}

func textOf(key reflect.Value) string {
	if key.Kind() != reflect.String {
		panic(fmt.Sprintf("coat: no sum of a map by %s", key.Kind()))
	}
	return key.String()
}
