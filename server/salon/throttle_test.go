package salon

import (
	"fmt"
	"math/rand/v2"
	"net/netip"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"
)

// world is a throttle with a clock, and every try that it let through.
type world struct {
	now    time.Time
	th     *throttle
	tested []time.Time // wrong passwords that were tested
}

func newWorld() *world {
	w := &world{now: time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)}
	w.th = newThrottle(func() time.Time { return w.now })
	return w
}

func (w *world) wrong(y try) (wait time.Duration) {
	_, wait = w.th.take(y)
	if wait == 0 {
		w.tested = append(w.tested, w.now)
	}
	return wait
}

func (w *world) right(y try) (wait time.Duration) {
	back, wait := w.th.take(y)
	if wait == 0 {
		back()
	}
	return wait
}

// inAnHour is the most tries that were tested in any hour, both its ends included.
func (w *world) inAnHour() int {
	most, from := 0, 0
	for i, at := range w.tested {
		for at.Sub(w.tested[from]) > time.Hour {
			from++
		}
		most = max(most, i-from+1)
	}
	return most
}

func addrNumber(i int) netip.Addr {
	return netip.AddrFrom4([4]byte{198, 18, byte(i >> 8), byte(i)}) // E: for benchmarks, RFC 2544
}

var (
	shop  = netip.MustParseAddr("192.0.2.10") // E: for documentation, RFC 5737
	hotel = netip.MustParseAddr("203.0.113.77")
	here  = netip.MustParseAddr("127.0.0.1")
)

// An attack goes on for twelve hours from so many addresses, with two tries a second; the owner comes at a random moment of
// the first six hours, and again every five minutes until she is in. THATCH_MANY sets how often it is played.
func TestUnderAttackAtMostTwentyAreTestedAnHourAndTheOwnerGetsIn(t *testing.T) {
	times, err := strconv.Atoi(os.Getenv("THATCH_MANY"))
	if err != nil {
		times = 2
	}
	owner := []struct {
		name string
		try  try
	}{
		{"a browser that she signed in from before, elsewhere", try{account: "ada", name: "ada", addr: hotel, known: true}},
		{"that browser at an attacker's own address", try{account: "ada", name: "ada", addr: addrNumber(0), known: true}},
		{"an address that nobody used", try{account: "ada", name: "ada", addr: hotel}},
	}
	for _, addresses := range []int{1, 2, 10, 200} {
		for i, o := range owner {
			most, longest, out := 0, time.Duration(0), 0
			for seed := range times {
				n, waited := underAttack(addresses, o.try, uint64(seed))
				most = max(most, n)
				if waited < 0 {
					out++
				} else {
					longest = max(longest, waited)
				}
			}
			t.Logf("%3d addresses: at most %d tested in an hour; the owner from %s waits %v at most, %d of %d times for the end of the attack", addresses, most, o.name, longest.Round(time.Second), out, times)
			if most > 20 || most < 5 {
				t.Errorf("%d addresses: %d wrong passwords tested in an hour", addresses, most)
			}
			if (i < 2 || addresses <= 2) && (out > 0 || longest > 15*time.Minute) {
				t.Errorf("%d addresses: the owner from %s waits %v, %d times for the end", addresses, o.name, longest, out)
			}
		}
	}
}

// underAttack plays twelve hours; waited is −1 where the owner is not in at their end.
func underAttack(addresses int, owner try, seed uint64) (tested int, waited time.Duration) {
	w := newWorld()
	lot := rand.New(rand.NewPCG(uint64(addresses), seed))
	comes := w.now.Add(time.Duration(lot.Int64N(int64(6 * time.Hour))))
	waited = -1
	next := comes
	for end := w.now.Add(12 * time.Hour); w.now.Before(end); w.now = w.now.Add(500 * time.Millisecond) {
		w.wrong(try{account: "ada", name: "ada", addr: addrNumber(lot.IntN(addresses))})
		if waited < 0 && !w.now.Before(next) {
			if w.right(owner) == 0 {
				waited = w.now.Sub(comes)
			}
			next = next.Add(5 * time.Minute)
		}
	}
	return w.inAnHour(), waited
}

// Nobody can have more than twenty tested, however many ways in are used at once.
func TestAllBudgetsTogetherAreTwentyAnHour(t *testing.T) {
	w := newWorld()
	for range 4 * 3600 {
		for i := range 3 {
			w.wrong(try{account: "ada", name: "ada", addr: addrNumber(len(w.tested)), known: i == 0})
		}
		w.wrong(try{account: "ada", name: "ada", addr: shop, known: true})
		w.wrong(try{account: "ada", name: "ada", addr: shop})
		w.now = w.now.Add(time.Second)
	}
	if n := w.inAnHour(); n != 20 {
		t.Errorf("%d in an hour, want all of the budget and no more: 20", n)
	}
	per := rateKnown.burst + rateFresh.burst + rateAnywhere.burst + int(time.Hour/rateKnown.step+time.Hour/rateFresh.step+time.Hour/rateAnywhere.step)
	if per != 20 {
		t.Errorf("the budgets say %d", per)
	}
}

func TestHerOwnSlipsKeepNobodyOutForLong(t *testing.T) {
	for _, c := range []struct {
		name  string
		try   try
		slips int // at least so many before she waits
	}{
		{"her own browser", try{account: "ada", name: "ada", addr: shop, known: true}, 6},
		{"a new browser", try{account: "ada", name: "ada", addr: shop}, 3},
	} {
		w := newWorld()
		n := 0
		for w.wrong(c.try) == 0 {
			n++
		}
		if n < c.slips {
			t.Errorf("%s: after %d slips she waits", c.name, n)
		}
		wait := w.right(c.try)
		if wait <= 0 || wait > 15*time.Minute {
			t.Errorf("%s: then she waits %v", c.name, wait)
		}
		w.now = w.now.Add(wait)
		for range 100 {
			if w.right(c.try) != 0 {
				t.Fatalf("%s: what she got right counts against her", c.name)
			}
		}
	}
}

func TestOneAddressTriesManyNamesSlowly(t *testing.T) {
	w := newWorld()
	for i := range 3600 {
		w.wrong(try{name: fmt.Sprint("name", i), addr: shop})
		w.now = w.now.Add(time.Second)
	}
	if n := w.inAnHour(); n > 30 {
		t.Errorf("%d names were tried from one address in an hour", n)
	}
	w = newWorld()
	for i := range 200 {
		w.wrong(try{name: "x", addr: netip.MustParseAddr(fmt.Sprintf("2001:db8:0:7::%x", i+1))}) // E: documentation, RFC 3849
	}
	if n := len(w.tested); n > 1+ratePair.burst {
		t.Errorf("one network of IPv6 had %d tries", n)
	}
}

// Who has no account waits like who has one.
func TestAnUnknownNameIsBoundedLikeAKnownOne(t *testing.T) {
	counts := func(y try) (out []int) {
		w := newWorld()
		for range 120 {
			n := len(w.tested)
			for i := range 5 {
				z := y
				z.addr = addrNumber(i)
				w.wrong(z)
			}
			out = append(out, len(w.tested)-n)
			w.now = w.now.Add(time.Minute)
		}
		return out
	}
	a, b := counts(try{account: "ada", name: "ada"}), counts(try{name: "nobody"})
	if fmt.Sprint(a) != fmt.Sprint(b) {
		t.Errorf("an account %v\na strange name %v", a, b)
	}
}

func TestWhatIsRememberedIsBounded(t *testing.T) {
	w := newWorld()
	victim := try{account: "ada", name: "ada", addr: shop}
	for w.wrong(victim) == 0 {
	}
	for i := range 3 * throttleKept {
		w.wrong(try{name: fmt.Sprint(i), addr: addrNumber(i)})
	}
	if a, p := len(w.th.addrs), len(w.th.pairs); a > throttleKept || p > throttleKept {
		t.Errorf("%d addresses, %d pairs", a, p)
	}
	n := len(w.tested)
	for i := range 50 {
		w.wrong(try{account: "ada", name: "ada", addr: addrNumber(60000 + i)})
	}
	if got := len(w.tested) - n + 1 + ratePair.burst; got > rateFresh.burst+rateAnywhere.burst {
		t.Errorf("a flood of other names made the account forget: %d tries", got)
	}
}

func TestTriesAtOnceCannotExceedTheBudget(t *testing.T) {
	th := newThrottle(func() time.Time { return time.Unix(1e9, 0) })
	var mu sync.Mutex
	var wg sync.WaitGroup
	through := 0
	for i := range 200 {
		wg.Go(func() {
			if _, wait := th.take(try{account: "ada", name: "ada", addr: addrNumber(i)}); wait == 0 {
				mu.Lock()
				through++
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if through != rateFresh.burst+rateAnywhere.burst {
		t.Errorf("%d went through at once", through)
	}
}

func TestTheOwnersCodeIsTriedSlowlyFromAfarAndAtTheComputerAllTheSame(t *testing.T) {
	w := newWorld()
	n := 0
	for i := range 3600 {
		if w.th.takeCode(addrNumber(i%200), false) == 0 {
			n++
		}
		w.now = w.now.Add(time.Second)
	}
	if n > 70 {
		t.Errorf("%d codes tried in an hour", n)
	}
	if wait := w.th.takeCode(here, false); wait != 0 {
		t.Errorf("at the computer the owner waits %v", wait)
	}
}

// However many addresses try passwords, codes and keys: from an address of her own the owner's spare key is tried at once.
func TestWithHerSpareKeyTheOwnerGetsInFromANewAddressWhateverAttacks(t *testing.T) {
	for _, addresses := range []int{1, 10, 200, 3000, 10000} {
		w, kept, passwords := newWorld(), 0, 0
		lot := rand.New(rand.NewPCG(uint64(addresses), 2))
		for second := range 2 * 3600 {
			from := addrNumber(lot.IntN(addresses))
			w.wrong(try{account: "ada", name: "ada", addr: from})
			if w.th.takeCode(from, second%2 == 0) > 0 {
				kept++
			}
			if second%300 == 299 {
				new := netip.MustParseAddr(fmt.Sprintf("2001:db8:%x::1", second)) // documentation, RFC 3849
				if wait := w.th.takeCode(new, true); wait > 0 {
					t.Fatalf("%d addresses: after %d s the owner waits %v for her key", addresses, second, wait)
				}
				if w.right(try{account: "ada", name: "ada", addr: new}) > 0 {
					passwords++
				}
			}
			w.now = w.now.Add(time.Second)
		}
		if kept < 2700 {
			t.Errorf("%d addresses: only %d of 7200 were kept waiting: this attack is none", addresses, kept)
		}
		if addresses >= 200 && passwords == 0 {
			t.Errorf("%d addresses: her password was never kept waiting: the key is good for nothing here", addresses)
		}
	}
}

// While strangers use up the tries of codes, an owner who leaves out a letter of her key is told that it is wrong, not to wait.
func TestAMistypedSpareKeyIsToldUnderAttack(t *testing.T) {
	s, _ := opened(t)
	ctx := t.Context()
	ada := theOwner(t, s)
	key := must(s.MakeSpareKey(ctx, ada.ID))
	for i := range 50 {
		_, _ = s.OwnerByCode(ctx, "0000-0000-0000-0000", "Ada", "x", Knock{Addr: addrNumber(i)})
	}
	if _, err := s.OwnerByCode(ctx, "0000-0000-0000-0000", "Ada", "x", Knock{Addr: addrNumber(60)}); faultKey(err) == "fault.store.not_found.owner_code" {
		t.Error("the tries of codes are not used up: this attack is none")
	}
	for _, typed := range []string{key[1:], key[:len(key)-1], key + "0"} {
		if _, err := s.OwnerByCode(ctx, typed, "Ada Lovage", "four wrens along a lane", Knock{Addr: addrNumber(70)}); faultKey(err) != "fault.store.not_found.owner_code" {
			t.Errorf("%d letters: %v", len(typed), err)
		}
	}
}

func TestOneAddressTriesSpareKeysSlowly(t *testing.T) {
	w := newWorld()
	n := 0
	for range 3600 {
		if w.th.takeCode(shop, true) == 0 {
			n++
		}
		w.now = w.now.Add(time.Second)
	}
	if n > 30 {
		t.Errorf("%d keys tried in an hour", n)
	}
}

// Whatever comes from elsewhere, passwords and codes from ever so many addresses: at the machine itself the owner's fresh code
// (`thatch owner`) is tried at once.
func TestAtTheMachineTheOwnerGetsInWhateverAttacks(t *testing.T) {
	for _, addresses := range []int{1, 10, 200, 3000} {
		w, kept := newWorld(), 0
		lot := rand.New(rand.NewPCG(uint64(addresses), 1))
		for second := range 2 * 3600 {
			from := addrNumber(lot.IntN(addresses))
			w.wrong(try{account: "ada", name: "ada", addr: from})
			if w.th.takeCode(from, false) > 0 {
				kept++
			}
			if second%300 == 299 {
				if wait := w.th.takeCode(here, false); wait > 0 {
					t.Fatalf("%d addresses: after %d s the owner at the machine waits %v", addresses, second, wait)
				}
			}
			w.now = w.now.Add(time.Second)
		}
		if kept < 3600 {
			t.Errorf("%d addresses: only %d of 7200 codes from elsewhere were kept waiting: this attack is none", addresses, kept)
		}
	}
}
