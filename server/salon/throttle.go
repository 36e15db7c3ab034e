package salon

import (
	"hash/maphash"
	"net/netip"
	"sync"
	"time"

	"thatch/timeline"
)

// rate lets through burst tries at once and then one every step. In any hour these are at most burst + hour/step.
type rate struct {
	burst int
	step  time.Duration
}

// Wrong passwords in an hour, for one account over all addresses, are at most 3+4 + 2+4 + 3+4 = 20. The three budgets of an
// account stand beside each other, and who has one of the first two may use the others too, so that strangers who go on
// and on use up only the last: a browser that she signed in from before still gets through, and an address that gave no
// wrong password for a day, unless there are more and more such strangers. Every step is a quarter of an hour: when the
// tries stop, nobody waits longer. Nobody is locked out for ever.
var (
	rateKnown    = rate{3, 15 * time.Minute} // an account, from browsers that she signed in from
	rateFresh    = rate{2, 15 * time.Minute} // an account, from addresses that gave no wrong password for it of late
	rateAnywhere = rate{3, 15 * time.Minute} // an account, from anywhere
	ratePair     = rate{2, 15 * time.Minute} // an account from one address: less than rateAnywhere, so that one stranger leaves a try
	rateAddress  = rate{10, 3 * time.Minute} // an address, whatever the account
	rateCode     = rate{10, time.Minute}     // the owner's one-time code from everywhere: it has 80 random bits
)

// fadeFailed is how long an address that gave a wrong password for an account is not fresh for it.
const fadeFailed = 24 * time.Hour

const (
	throttleKept = 4096 // addresses, and pairs of account and address, that are remembered
	strangeNames = 1024 // budgets that unknown names share
)

// throttle bounds tries of passwords. It keeps one instant for each budget: when it will be whole again.
type throttle struct {
	mu       sync.Mutex
	now      func() time.Time
	seed     maphash.Seed
	accounts map[timeline.ID]*account
	strange  [strangeNames]account // of names that nobody has, by their hash: they wait like the others
	addrs    fading
	pairs    fading
	failed   fading       // pairs that are not fresh, until then
	code     [2]time.Time // from anywhere, from this computer
}

type account struct{ known, fresh, anywhere time.Time }

func newThrottle(now func() time.Time) *throttle {
	return &throttle{now: now, seed: maphash.MakeSeed(), accounts: map[timeline.ID]*account{}, addrs: fading{}, pairs: fading{}, failed: fading{}}
}

// try is where a try comes from.
type try struct {
	account timeline.ID // "": nobody has the name
	name    string      // as it is looked up
	addr    netip.Addr
	known   bool // from a browser that the account signed in from
}

// take takes a try out of every budget that it falls under, or out of none: then wait is how long until there is one. A
// try that turned out right is given back.
func (t *throttle) take(y try) (giveBack func(), wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	a := t.accountOf(y)
	if y.known {
		if wait = takeAll(now, budget{&a.known, rateKnown}); wait == 0 {
			return t.back([]budget{{&a.known, rateKnown}}, func() {}), 0
		}
	}
	from := network(y.addr)
	both := from + "|" + string(y.account) + "|" + y.name
	addr, pair, failed := t.addrs.at(from, now), t.pairs.at(both, now), t.failed.at(both, now)
	was := *failed
	fresh := []budget{{&a.fresh, rateFresh}, {addr, rateAddress}}
	anywhere := []budget{{&a.anywhere, rateAnywhere}, {addr, rateAddress}, {pair, ratePair}}
	ways := [][]budget{fresh, anywhere}
	if was.After(now) {
		ways = ways[1:]
	}
	for _, way := range ways {
		w := takeAll(now, way...)
		if w == 0 {
			*failed = now.Add(fadeFailed)
			return t.back(way, func() { *failed = was }), 0
		}
		wait = soonest(wait, w)
	}
	return nil, wait
}

// takeCode is take for the owner's one-time code, or a spare key: that has 140 random bits, so that nobody comes nearer to it by
// trying, and strangers must not be able to use up the owner's tries. Only her own address counts.
func (t *throttle) takeCode(addr netip.Addr, spare bool) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if addr.IsLoopback() {
		return takeAll(now, budget{&t.code[1], rateCode})
	}
	address := budget{t.addrs.at(network(addr), now), rateAddress}
	if spare {
		return takeAll(now, address)
	}
	return takeAll(now, budget{&t.code[0], rateCode}, address)
}

func (t *throttle) accountOf(y try) *account {
	if y.account == "" {
		return &t.strange[maphash.String(t.seed, y.name)%strangeNames]
	}
	a := t.accounts[y.account]
	if a == nil {
		a = &account{}
		t.accounts[y.account] = a
	}
	return a
}

type budget struct {
	whole *time.Time
	rate
}

// takeAll is the generic cell rate algorithm (ITU-T I.371, annex A) over several budgets at once.
func takeAll(now time.Time, all ...budget) (wait time.Duration) {
	for _, b := range all {
		if b.whole.After(now) {
			wait = max(wait, b.whole.Sub(now)-time.Duration(b.burst-1)*b.step)
		}
	}
	if wait > 0 {
		return wait
	}
	for _, b := range all {
		if b.whole.Before(now) {
			*b.whole = now
		}
		*b.whole = b.whole.Add(b.step)
	}
	return 0
}

func giveAll(all []budget) {
	for _, b := range all {
		*b.whole = b.whole.Add(-b.step)
	}
}

func (t *throttle) back(all []budget, also func()) func() {
	return func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		giveAll(all)
		also()
	}
}

func soonest(a, b time.Duration) time.Duration {
	if a == 0 {
		return b
	}
	return min(a, b)
}

// network is an address as one customer has it: an IPv6 address by its first 64 bits.
func network(a netip.Addr) string {
	a = a.Unmap().WithZone("")
	if a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}

// fading remembers budgets until they are whole again, and never more than throttleKept of them: then the one that is
// nearest to being whole goes. Accounts are not kept here, so that nobody can make theirs be forgotten.
type fading map[string]*time.Time

func (f fading) at(key string, now time.Time) *time.Time {
	if v := f[key]; v != nil {
		return v
	}
	if len(f) >= throttleKept {
		first := ""
		for k, v := range f {
			if !v.After(now) {
				delete(f, k)
			} else if first == "" || v.Before(*f[first]) {
				first = k
			}
		}
		if len(f) >= throttleKept {
			delete(f, first)
		}
	}
	v := new(time.Time)
	f[key] = v
	return v
}
