package words

import (
	"math"
	"strconv"
	"strings"

	"thatch/timeline"
)

func roundHalf(mm float64) float64 { return math.Round(mm*2)/2 + 0 }

var sixteenths = [16]string{"", "1⁄16", "⅛", "3⁄16", "¼", "5⁄16", "⅜", "7⁄16", "½", "9⁄16", "⅝", "11⁄16", "¾", "13⁄16", "⅞", "15⁄16"}

func inches(mm float64) string {
	sign := ""
	if mm < 0 {
		sign, mm = "−", -mm
	}
	n := int(math.Round(mm / MMPerInch * 16))
	whole, part := n/16, sixteenths[n%16]
	switch {
	case part == "":
		if whole == 0 {
			return "0"
		}
		return sign + strconv.Itoa(whole)
	case whole == 0:
		return sign + part
	}
	return sign + strconv.Itoa(whole) + " " + part
}

func parseLength(text string, units Units) (float64, error) {
	bad := timeline.NewFault(timeline.Invalid, "fault.length", "text", clip(text, 40))
	t := strings.ToLower(strings.TrimSpace(text))
	factor := 1.0
	if units == Inches {
		factor = MMPerInch
	}
	for _, u := range []struct {
		suffix string
		factor float64
	}{{"mm", 1}, {"cm", 10}, {"inches", MMPerInch}, {"inch", MMPerInch}, {"zoll", MMPerInch}, {"in", MMPerInch}, {"″", MMPerInch}, {"\"", MMPerInch}} {
		if strings.HasSuffix(t, u.suffix) {
			t, factor = strings.TrimSpace(strings.TrimSuffix(t, u.suffix)), u.factor
			break
		}
	}
	for i := len(sixteenths) - 1; i > 0; i-- { // downwards: "11⁄16" ends like "1⁄16"
		if s := sixteenths[i]; strings.HasSuffix(t, s) {
			t = strings.TrimSpace(strings.TrimSuffix(t, s)) + " " + strconv.Itoa(i) + "/16"
			break
		}
	}
	sum := 0.0
	fields := strings.Fields(t)
	if len(fields) == 0 || len(fields) > 2 {
		return 0, bad
	}
	for i, f := range fields {
		num, den, isFraction := strings.Cut(f, "/")
		if !isFraction && i == 1 {
			return 0, bad
		}
		v, err := number(num)
		if err != nil {
			return 0, bad
		}
		if isFraction {
			d, err := number(den)
			if err != nil || d == 0 {
				return 0, bad
			}
			v /= d
		}
		sum += v
	}
	mm := sum * factor
	if math.IsNaN(mm) || mm < 0 || mm > 2000 {
		return 0, bad
	}
	return mm, nil
}

// number reads plain decimals with a point or a comma; no exponents, no signs, no "inf".
func number(s string) (float64, error) {
	for _, r := range s {
		if (r < '0' || r > '9') && r != '.' && r != ',' {
			return 0, strconv.ErrSyntax
		}
	}
	return strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
}

func clip(s string, n int) string {
	r := []rune(s)
	if len(r) > n {
		return string(r[:n]) + "…"
	}
	return s
}
