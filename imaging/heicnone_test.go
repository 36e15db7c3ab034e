//go:build noheic

package imaging

import (
	"bytes"
	"context"
	"os"
	"testing"
)

func TestABuildWithoutHEICRefusesItByName(t *testing.T) {
	b, err := os.ReadFile("testdata/heic/phantom.heic")
	if err != nil {
		t.Fatal(err)
	}
	r, size := bytes.NewReader(b), int64(len(b))
	if f, err := Inspect(r, size, "", InspectOptions{}); err != nil || f.WidthPX != 320 {
		t.Errorf("its headers are not read: %v, %v", f, err)
	}
	_, decodeErr := Decode(context.Background(), r, size, Facts{})
	_, makeErr := Make(context.Background(), r, size, Facts{})
	for what, err := range map[string]error{"Check": Check(context.Background(), r, size, Facts{}), "Decode": decodeErr, "Make": makeErr} {
		if r := AsRefusal(err); r == nil || r.Code != CodeFormatUnsupported || r.Args["format"] != FormatHEIC {
			t.Errorf("%s: %v", what, err)
		}
	}
	if Licences() != "" {
		t.Error("it hands on licences of what it has not")
	}
}
