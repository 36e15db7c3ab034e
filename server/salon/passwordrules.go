package salon

import (
	_ "embed"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
)

// A password is judged by its length and by how much of it is more than what everybody thinks of first; no kind of
// character is asked for (OWASP ASVS 5.0, 6.2.1, 6.2.4, 6.2.5, 6.2.9, 6.2.11; NIST SP 800-63B).
const (
	minPasswordRunes = 12
	maxPasswordBytes = 256 // 64 characters of any script
	minOwnParts      = 7   // parts of a password that are not to be guessed from the parts beside them
)

// checkPassword refuses a password that is too short, too long or too easy. known are words that anybody would try with
// this person: her name, the salon's.
func checkPassword(field, password string, known ...string) error {
	n := utf8.RuneCountInString(composed(password))
	switch {
	case !utf8.ValidString(password):
		return invalid(field, "fault.password.text")
	case n < minPasswordRunes:
		return invalid(field, "fault.password.short", "n", n, "min", minPasswordRunes)
	case len(password) > maxPasswordBytes:
		return invalid(field, "fault.password.long", "max", maxPasswordBytes)
	case ownParts(password, known) < minOwnParts || isCommon(password):
		return invalid(field, "fault.password.easy")
	}
	return nil
}

//go:embed common/hashes.txt
var commonHashes string

// isCommon tells whether password is on a list of frequent ones (common/README.md), whatever its case.
func isCommon(password string) bool {
	return strings.Contains(commonHashes, hashOf(strings.ToLower(composed(password)))[:16]+"\n")
}

// commonWords begin most lists of passwords that were found out; from memory, no list was copied. Years, runs and repeats
// are found by rule.
var commonWords = strings.Fields(`password passwort passwd pass word secret geheim admin administrator root user guest login welcome willkommen letmein
	access master changeme default test temp qwerty qwertz azerty asdf zxcv iloveyou love baby angel princess prinzessin sunshine flower monkey dragon
	football baseball soccer hockey superman batman pokemon starwars shadow michael jordan jessica ashley daniel charlie hello hallo freedom whatever
	trustno computer internet summer sommer winter spring autumn herbst monday friday january december money cheese killer ninja mustang ferrari
	harley chocolate cookie pepper ginger buster bailey maggie lucky happy hunter ranger tigger snoopy puppy doggy dogs dog hund cat katze
	thatch groom groomer grooming salon coat strip stripping handstripping wire terrier schnauzer dackel dachshund trimmen hundesalon`)

// leet are digits and signs that stand for letters.
var leet = strings.NewReplacer("0", "o", "1", "l", "3", "e", "4", "a", "5", "s", "7", "t", "@", "a", "$", "s", "!", "i")

// keyRows are neighbours on keyboards.
var keyRows = []string{"qwertyuiop", "qwertzuiop", "azertyuiop", "asdfghjkl", "zxcvbnm", "yxcvbnm", "1234567890", "qazwsxedcrfvtgbyhnujmikolp", "1q2w3e4r5t6y7u8i9o0p", "1q2w3e4r5t6z7u8i9o0p", "q1w2e3r4t5y6u7i8o9p0", "1qaz2wsx3edc4rfv5tgb6yhn7ujm"}

// ownParts counts the parts of a password: a word of the lists, a year, a run (abcd, 4321, qwer, aaaa) and a repeat of
// what stands before are one part each, anything else is one part a character.
func ownParts(password string, known []string) int {
	fold := func(s string) []rune { return []rune(cases.Fold().String(composed(s))) }
	plain := fold(password)
	read := fold(leet.Replace(string(plain)))
	words := make([][]rune, 0, len(commonWords)+2*len(known))
	for _, w := range commonWords {
		words = append(words, []rune(w))
	}
	for _, k := range known {
		for _, w := range append(strings.FieldsFunc(k, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), strings.Join(strings.Fields(k), "")) {
			if w := fold(w); len(w) >= 3 {
				words = append(words, w)
			}
		}
	}
	n := len(plain)
	best := make([]int, n+1) // of the first i characters
	for i := 1; i <= n; i++ {
		best[i] = best[i-1] + 1
		for _, w := range words {
			if at := i - len(w); at >= 0 && (string(plain[at:i]) == string(w) || string(read[at:i]) == string(w)) {
				best[i] = min(best[i], best[at]+1)
			}
		}
		for at := i - 3; at >= 0 && isRun(plain[at:i]); at-- {
			best[i] = min(best[i], best[at]+1)
		}
		for size := 6; size <= min(i, 32); size++ {
			if isRun(every2nd(plain[i-size:i])) && isRun(every2nd(plain[i-size+1:i])) { // a1s2d3, 1a1b1c
				best[i] = min(best[i], best[i-size]+1)
			}
		}
		if i >= 4 && isYear(plain[i-4:i]) {
			best[i] = min(best[i], best[i-4]+1)
		}
		for size := 2; size <= i/2; size++ {
			if at := i - size; strings.Contains(string(plain[:at]), string(plain[at:i])) {
				best[i] = min(best[i], best[at]+1)
			}
		}
	}
	return best[n]
}

func every2nd(r []rune) (out []rune) {
	for i := 0; i < len(r); i += 2 {
		out = append(out, r[i])
	}
	return out
}

func isYear(r []rune) bool {
	s := string(r)
	return (strings.HasPrefix(s, "19") || strings.HasPrefix(s, "20")) && unicode.IsDigit(r[2]) && unicode.IsDigit(r[3])
}

// isRun: each character follows the one before by the same step of −1, 0 or 1, or along a row of keys either way.
func isRun(r []rune) bool {
	if len(r) < 3 {
		return false
	}
	step := r[1] - r[0]
	steady := step >= -1 && step <= 1
	for i := 2; steady && i < len(r); i++ {
		steady = r[i]-r[i-1] == step
	}
	if steady {
		return true
	}
	s := string(r)
	back := make([]rune, len(r))
	for i, c := range r {
		back[len(r)-1-i] = c
	}
	for _, row := range keyRows {
		if strings.Contains(row, s) || strings.Contains(row, string(back)) {
			return true
		}
	}
	return false
}
