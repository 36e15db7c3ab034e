package pages

import (
	"reflect"
	"testing"
)

// A template that says .Late means one thing: a page's own field of the name of one that it embeds would take its place
// without a word.
func TestNoPageHidesAFieldOfWhatItEmbeds(t *testing.T) {
	if len(shapes) == 0 {
		t.Fatal("no page is declared")
	}
	for name, typ := range shapes {
		at := map[string]int{}
		for _, f := range reflect.VisibleFields(typ) {
			at[f.Name] = len(f.Index)
		}
		var look func(typ reflect.Type, depth int)
		look = func(typ reflect.Type, depth int) {
			for i := range typ.NumField() {
				f := typ.Field(i)
				if d, ok := at[f.Name]; ok && d < depth && f.Name != "Dog" { // a page may say which Dog; of two at one depth the template itself says that it knows neither
					t.Errorf("page %q: %s of %s is hidden", name, f.Name, typ)
				}
				if inner := f.Type; f.Anonymous {
					if inner.Kind() == reflect.Pointer {
						inner = inner.Elem()
					}
					if inner.Kind() == reflect.Struct {
						look(inner, depth+1)
					}
				}
			}
		}
		look(typ, 1)
	}
}
