package salon

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"thatch/timeline"
)

// X: the vectors of the reference implementation of Argon2 (phc-winner-argon2, src/test.c), version 0x13, argon2id;
// written down from memory and right, for a wrong one would not hash to itself.
func TestHashesOfTheReferenceImplementation(t *testing.T) {
	h := newHasher()
	for _, hash := range []string{
		"$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
		"$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4",
	} {
		right, old, err := h.check(context.Background(), "password", hash)
		if err != nil || !right || !old {
			t.Errorf("%s: right %v, old %v, %v", hash, right, old, err)
		}
		if right, _, _ := h.check(context.Background(), "Password", hash); right {
			t.Errorf("%s: a wrong password is right", hash)
		}
	}
}

func TestAPasswordIsRightAsItWasTypedAndInNoOtherWay(t *testing.T) {
	h, ctx := newHasher(), context.Background()
	const password = " Zwölf Dächse, один, 狗 🐕 " // spaces at both ends belong to it
	hash, err := h.hash(ctx, password)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(hash, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("%s", hash)
	}
	if again, _ := h.hash(ctx, password); again == hash {
		t.Error("two hashes of a password are the same: no salt")
	}
	for typed, want := range map[string]bool{
		password: true, strings.ReplaceAll(password, "ö", "o\u0308"): true, strings.TrimSpace(password): false, strings.ToLower(password): false,
		password[:len(password)-1]: false, "": false,
	} {
		if right, old, err := h.check(ctx, typed, hash); right != want || old || err != nil {
			t.Errorf("%q: %v, old %v, %v", typed, right, old, err)
		}
	}
}

func TestNobodysPasswordIsNeverRight(t *testing.T) {
	h := newHasher()
	for _, p := range []string{"", "a", "a heron on the weir"} {
		if right, _, err := h.check(context.Background(), p, ""); right || err != nil {
			t.Errorf("%q: %v, %v", p, right, err)
		}
	}
	if how, salt, key, err := parsePHC(h.decoy); err != nil || how != todaysHashing || len(salt) != saltBytes || len(key) != keyBytes {
		t.Error("an unknown name does not cost what a wrong password costs")
	}
}

func FuzzPHC(f *testing.F) {
	f.Add("$argon2id$v=19$m=19456,t=2,p=1$c29tZXNhbHRzb21lc2FsdA$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc")
	f.Add("$argon2id$v=19$m=4294967295,t=4294967295,p=255$$")
	f.Add("$argon2id$v=19$m=10,t=1,p=1$00000000000$000\r00000000000000000000")
	f.Fuzz(func(t *testing.T, text string) {
		h, salt, key, err := parsePHC(text)
		if err != nil {
			return
		}
		if h.memoryKiB > 256<<10 || h.passes > 16 || h.lanes > 8 {
			t.Fatalf("%q asks for %+v", text, h)
		}
		if h.phc(salt, key) != text {
			t.Fatalf("%q is written %q", text, h.phc(salt, key))
		}
	})
}

func TestAHashInAnotherSpellingIsRefused(t *testing.T) {
	h := hashing{memoryKiB: 19456, passes: 2, lanes: 1}
	text := h.phc([]byte("somesaltsomesalt"), []byte("a key of thirty-two bytes, whole"))
	if _, _, _, err := parsePHC(text); err != nil {
		t.Fatal(err)
	}
	for name, other := range map[string]string{
		"a line break at the end":    text + "\n",
		"a return within the key":    text[:len(text)-5] + "\r" + text[len(text)-5:],
		"a line break in the salt":   strings.Replace(text, "c29t", "c2\n9t", 1),
		"a zero before a parameter":  strings.Replace(text, "m=", "m=0", 1),
		"a plus before a parameter":  strings.Replace(text, "t=2", "t=+2", 1),
		"something after parameters": strings.Replace(text, "p=1", "p=1,x=1", 1),
		"padded base64":              text + "=",
		"bits left over in the key":  text[:len(text)-1] + "V",
		"the alphabet of addresses":  strings.Replace(text, "c29t", "c2-t", 1),
	} {
		if other == text {
			t.Errorf("%s: nothing is changed", name)
		}
		if _, _, _, err := parsePHC(other); !errors.Is(err, errPHC) {
			t.Errorf("%s: %q is read: %v", name, other, err)
		}
	}
}

func TestAHashThatAsksForTooMuchIsRefused(t *testing.T) {
	const tail = "$c29tZXNhbHRzb21lc2FsdA$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	for _, head := range []string{
		"$argon2i$v=19$m=19456,t=2,p=1", "$argon2id$v=16$m=19456,t=2,p=1", "$argon2id$v=19$m=1048576,t=2,p=1", "$argon2id$v=19$m=19456,t=100,p=1",
		"$argon2id$v=19$m=19456,t=2,p=0", "$argon2id$v=19$m=19456,t=2,p=1,x=1", "$argon2id$v=19$m=019456,t=2,p=1", "$2a$10$abc",
	} {
		if _, _, _, err := parsePHC(head + tail); !errors.Is(err, errPHC) {
			t.Errorf("%s: %v", head, err)
		}
	}
}

func TestOnlyTwoPasswordsAreHashedAtOnceAndNobodyWaitsWithoutEnd(t *testing.T) {
	h := newHasher()
	h.wait = 30 * time.Millisecond
	var done []func()
	for range hashesAtOnce {
		d, err := h.turn(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		done = append(done, d)
	}
	busy := func(err error) {
		t.Helper()
		var f *timeline.Fault
		if !errors.As(err, &f) || f.Kind != timeline.Busy || f.Wait <= 0 {
			t.Errorf("%v", err)
		}
	}
	_, err := h.turn(context.Background())
	busy(err) // it waited, and nobody was ready

	h.wait = time.Minute
	ctx, stop := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	for range hashesWait {
		wg.Go(func() { _, err := h.turn(ctx); busy(err) })
	}
	for len(h.waiting) < hashesWait {
		time.Sleep(time.Millisecond)
	}
	_, err = h.turn(context.Background())
	busy(err) // at once: enough others wait
	stop()
	wg.Wait()

	next := make(chan error, 1)
	go func() {
		d, err := h.turn(context.Background())
		if err == nil {
			d()
		}
		next <- err
	}()
	done[0]()
	if err := <-next; err != nil {
		t.Errorf("when one is ready the next is not served: %v", err)
	}
	done[1]()
	if len(h.turns)+len(h.waiting) > 0 {
		t.Error("a turn was not given back")
	}
}

func TestAPasswordThatIsGuessedFirstIsRefused(t *testing.T) {
	for _, p := range []string{
		"password1234", "Passw0rd!2024", "P@ssw0rd12345", "qwertyuiop12", "123456789012", "111111111111", "abcdefghijkl", "abcabcabcabc", "iloveyou1234", "letmein12345",
		"qwerty123456", "1q2w3e4r1q2w3e4r", "passwordpassword", "hundehundehunde", "admin@123456", "welcome12345!", "dragon123456", "sunshine2024", "Ada Lovage 2026", "adalovage123",
		"The Wire Room", "wireroom12345", "schnauzer2025", "thatchthatch1", "zxcvbnm123456", "000000000000!", "asdfghjkl;12", "ааааааааааааа", "2024-2025-2026", "monkeymonkey12", "a1s2d3f4g5h6", "1a2a3a4a5a6a", "foreveryoung", "Civilization",
	} {
		if err := checkPassword("password", p, "Ada Lovage", "The Wire Room"); timeline.KindOf(err) != timeline.Invalid {
			t.Errorf("%q is taken", p)
		}
	}
	for _, p := range []string{
		"a heron on the weir", "two otters by the mill", "correct horse battery staple", "x7#Kq9!vT2$z", "Zwölf Dächse im Nebel", "двенадцать барсуков", "犬犬猫鳥魚馬羊牛豚鼠龍虎", strings.Repeat("wren ", 3) + "lark plover",
		strings.Repeat("🐕🦆🐈🦊🐻🐼🐨🦁", 8), "mYd0gL1kesM0untains",
	} {
		if err := checkPassword("password", p, "Ada Lovage", "The Wire Room"); err != nil {
			t.Errorf("%q: %v", p, err)
		}
	}
}

func TestPasswordsHaveALengthAndNothingElseIsAsked(t *testing.T) {
	for p, want := range map[string]string{
		"": "fault.password.short", "elevenchars": "fault.password.short", "xo\u0308xo\u0308xo\u0308ka": "fault.password.short", // composed it has eight
		strings.Repeat("heron weir otter ", 16): "fault.password.long", "a heron on the we\xff": "fault.password.text",
	} {
		err := checkPassword("password", p)
		var f *timeline.Fault
		if !errors.As(err, &f) || f.Say.Key != want || f.Field != "password" || strings.Contains(err.Error(), "heron") {
			t.Errorf("%q: %v, want %s", p, err, want)
		}
	}
}

func BenchmarkSignIn(b *testing.B) {
	h := newHasher()
	hash, err := h.hash(context.Background(), "a heron on the weir")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if right, _, err := h.check(context.Background(), "a heron on the weir", hash); !right || err != nil {
			b.Fatal(err)
		}
	}
}
