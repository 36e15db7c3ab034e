package imaging

import (
	"bytes"
	"image"
	"reflect"
	"testing"
)

// What is shown beside the derivatives is what Decode gives, and the derivatives are Make's.
func TestAPhotoIsShownAsItIsDecodedWhileItsDerivativesAreMade(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 640, 480))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * 7 / 5)
	}
	var plain bytes.Buffer
	if err := EncodeJPEG(&plain, img, 90); err != nil {
		t.Fatal(err)
	}
	turned, err := InsertEXIF(plain.Bytes(), EXIFFields{Orientation: 6})
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"upright": plain.Bytes(), "turned": turned} {
		r, n := bytes.NewReader(b), int64(len(b))
		f, err := Inspect(r, n, "", InspectOptions{})
		if err != nil {
			t.Fatal(err)
		}
		want, err := Decode(t.Context(), r, n, f)
		if err != nil {
			t.Fatal(err)
		}
		made, err := Make(t.Context(), r, n, f)
		if err != nil {
			t.Fatal(err)
		}
		var shown *image.NRGBA
		got, err := MakeShown(t.Context(), r, n, f, func(img *image.NRGBA) { shown = img })
		if err != nil || !reflect.DeepEqual(shown, want) || !reflect.DeepEqual(got, made) {
			t.Errorf("%s: %v; the picture is the same: %v; the derivatives: %v", name, err, reflect.DeepEqual(shown, want), reflect.DeepEqual(got, made))
		}
		shown = nil
		if _, err := MakeShown(t.Context(), bytes.NewReader(b[:n/2]), n/2, f, func(img *image.NRGBA) { shown = img }); err == nil || shown != nil {
			t.Errorf("%s: half a photo was shown", name)
		}
	}
}
