package guard

import (
	"crypto/sha256"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"thatch/timeline"
)

// How often one may ask. People of the salon are counted each by themselves, for a whole salon stands behind one address;
// strangers by address, and their misses (a dead link, a refused form) far more strictly than what they see.
// Judgement, no source: a person at 5 requests a second, and pages with forty pictures, must never meet a limit.
const (
	personRate, personBurst     = 40, 400
	strangerRate, strangerBurst = 10, 200
	missRate, missBurst         = 0.2, 40
	remembered                  = 4096 // counters a generation; two generations are kept
	generation                  = 10 * time.Minute
)

// limits are token buckets by asker. Memory is bounded: when a generation is full or old it becomes the last one, and the
// one before is forgotten, which gives an asker at most one more burst.
type limits struct {
	mu        sync.Mutex
	now       func() time.Time
	began     time.Time
	here, old map[string]*rate.Limiter
}

func newLimits(now func() time.Time) *limits {
	return &limits{now: now, began: now(), here: map[string]*rate.Limiter{}, old: map[string]*rate.Limiter{}}
}

func (l *limits) of(key string, per rate.Limit, burst int) *rate.Limiter {
	l.mu.Lock()
	defer l.mu.Unlock()
	if lim := l.here[key]; lim != nil {
		return lim
	}
	if now := l.now(); len(l.here) >= remembered || now.Sub(l.began) > generation {
		l.old, l.here, l.began = l.here, map[string]*rate.Limiter{}, now
	}
	lim := l.old[key]
	if lim == nil {
		lim = rate.NewLimiter(per, burst)
	}
	l.here[key] = lim
	return lim
}

// take counts a request; the time to wait if there were too many. Whoever sits at the machine without an account, and
// assets, are not counted.
func (l *limits) take(r *http.Request, v timeline.Visitor, in bool, row Row) time.Duration {
	switch {
	case row.Object == Asset || in && v.Person == "":
		return 0
	case in:
		return l.wait(l.of("p "+string(v.Person)+string(v.Token)+browserOf(r), personRate, personBurst))
	}
	from := addressOf(r.RemoteAddr)
	if row.tried() {
		if miss := l.of("m "+from, missRate, missBurst); miss.TokensAt(l.now()) < 1 {
			return time.Duration((1 - miss.TokensAt(l.now())) / missRate * float64(time.Second))
		}
	}
	return l.wait(l.of("s "+from, strangerRate, strangerBurst))
}

// browserOf tells one person's browsers apart, for a salon may share a sign-in: by their cookies, which are secrets and
// therefore hashed.
func browserOf(r *http.Request) string {
	sum := sha256.Sum256([]byte(r.Header.Get("Cookie")))
	return string(sum[:8])
}

func (l *limits) wait(lim *rate.Limiter) time.Duration {
	now := l.now()
	if lim.AllowN(now, 1) {
		return 0
	}
	return max(time.Duration((1-lim.TokensAt(now))/float64(lim.Limit())*float64(time.Second)), time.Millisecond)
}

// missed counts an answer to a stranger that was none.
func (l *limits) missed(r *http.Request) {
	l.of("m "+addressOf(r.RemoteAddr), missRate, missBurst).AllowN(l.now(), 1)
}

// addressOf is the true client's: what the connection says, never a header.
func addressOf(remote string) string {
	ap, err := netip.ParseAddrPort(remote)
	if err != nil {
		return "unknown"
	}
	return Home(ap.Addr()).String()
}

// Home is what counts as one asker: an IPv4 address, or the /64 that an IPv6 household has for itself (RFC 6177).
func Home(a netip.Addr) netip.Prefix {
	a = a.Unmap().WithZone("")
	bits := a.BitLen()
	if a.Is6() {
		bits = 64
	}
	p, _ := a.Prefix(bits) // the zero address: the zero prefix
	return p
}
