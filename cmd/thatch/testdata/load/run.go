package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

type load struct {
	url               string
	people, slow, pid int
	accounts          bool
	rate              float64
	lasting, before   time.Duration

	mu    sync.Mutex
	took  map[string][]time.Duration
	wrong map[string]int
}

// dog is what a person knows of a dog on her table.
type dog struct {
	id, session string
	rev         int
	photos      []string
}

var (
	dogLink     = regexp.MustCompile(`href="/dogs/([0-9a-z]{16})"`)
	sessionLink = regexp.MustCompile(`href="/sessions/([0-9a-z]{16})["#?]`)
	photoLink   = regexp.MustCompile(`/photos/([0-9a-z]{16})["#?/]`)
	revField    = regexp.MustCompile(`name="rev" value="(\d+)"`)
)

func (l *load) run(ctx context.Context) error {
	l.took, l.wrong = map[string][]time.Duration{}, map[string]int{}
	began := time.Now()
	people := make([]*browser, l.people)
	for i := range people {
		var err error
		if people[i], err = l.signedIn(i); err != nil {
			return err
		}
	}
	fmt.Printf("%d people signed in, one after the other, in %.1f s\n", l.people, time.Since(began).Seconds())
	first := people[0]
	all, err := text(first, "/dogs")
	if err != nil {
		return err
	}
	var ids []string
	for _, m := range dogLink.FindAllStringSubmatch(all, -1) {
		if !slices.Contains(ids, m[1]) {
			ids = append(ids, m[1])
		}
	}
	if len(ids) < l.people {
		return fmt.Errorf("%d dogs for %d people", len(ids), l.people)
	}
	dogs := make([]dog, len(ids))
	began = time.Now()
	for i, id := range ids {
		if dogs[i], err = l.look(people[i%len(people)], id); err != nil {
			return err
		}
	}
	fmt.Printf("%d dogs looked at, one after the other, in %.1f s\n", len(ids), time.Since(began).Seconds())
	stop, cancel := context.WithTimeout(ctx, l.before+l.lasting)
	defer cancel()
	for range l.slow {
		go l.dawdle(stop)
	}
	if l.pid > 0 {
		go l.watch(stop)
	}
	time.AfterFunc(l.before, func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		clear(l.took)
		clear(l.wrong)
	})
	var wg sync.WaitGroup
	each := len(dogs) / l.people
	for i := range l.people {
		wg.Go(func() {
			l.work(stop, people[i], rand.New(rand.NewPCG(7, uint64(i))), dogs[i*each:(i+1)*each])
		})
	}
	wg.Wait()
	l.report()
	return nil
}

// signedIn is a browser of its own, signed in where there are accounts. Told to wait, it waits.
func (l *load) signedIn(i int) (*browser, error) {
	b, err := newBrowser(l.url)
	for err == nil && l.accounts {
		resp, err := b.post("/signin", url.Values{"name": {nameOf(i)}, "password": {passwordOf(i)}})
		if err == nil {
			err = b.done(resp, io.Discard)
		}
		if err != nil {
			return nil, err
		}
		wait, _ := strconv.Atoi(resp.Header.Get("Retry-After"))
		switch {
		case resp.StatusCode == http.StatusSeeOther:
			return b, nil
		case wait == 0:
			return nil, fmt.Errorf("sign-in of %s: %s", nameOf(i), resp.Status)
		}
		time.Sleep(time.Duration(wait) * time.Second)
	}
	return b, err
}

// text opens an answer and reads it.
func text(b *browser, path string) (string, error) {
	var text strings.Builder
	err := fetched(b, path, false, &text)
	return text.String(), err
}

// fetch takes a whole answer squeezed, as browsers do, and leaves it so: opening it is a phone's work and not that of the
// machine that serves.
func fetch(b *browser, path string) error { return fetched(b, path, true, io.Discard) }

func fetched(b *browser, path string, squeezed bool, to io.Writer) error {
	resp, err := b.get(path, squeezed)
	if err != nil {
		return err
	}
	err = b.done(resp, to)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = errors.New(path + ": " + resp.Status)
	}
	return err
}

func (l *load) look(c *browser, id string) (dog, error) {
	d := dog{id: id}
	page, err := text(c, "/dogs/"+id)
	if err != nil {
		return d, err
	}
	m := sessionLink.FindStringSubmatch(page)
	if m == nil {
		return d, errors.New("no session on the page of dog " + id)
	}
	d.session = m[1]
	for _, m := range photoLink.FindAllStringSubmatch(page, -1) {
		if !slices.Contains(d.photos, m[1]) && m[1] != "new" {
			d.photos = append(d.photos, m[1])
		}
	}
	for _, p := range d.photos { // what was expected of each session day is worked out once
		if _, err := text(c, "/photos/"+p); err != nil {
			return d, err
		}
	}
	page, err = text(c, "/sessions/"+d.session)
	if err != nil {
		return d, err
	}
	if m := revField.FindStringSubmatch(page); m != nil {
		d.rev, _ = strconv.Atoi(m[1])
	}
	return d, nil
}

// Of a hundred requests sixty are pages, thirty pictures, ten logs.
func (l *load) work(ctx context.Context, c *browser, rng *rand.Rand, mine []dog) {
	beat := time.Duration(float64(time.Second) / l.rate)
	due := time.Now().Add(time.Duration(rng.Float64() * float64(beat)))
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(time.Until(due)):
		}
		d := &mine[rng.IntN(len(mine))]
		switch n := rng.IntN(100); {
		case n < 60:
			kind, path := "", ""
			switch k := rng.IntN(100); {
			case k < 10:
				kind, path = "home", "/"
			case k < 45:
				kind, path = "dog", "/dogs/"+d.id
			case k < 75:
				kind, path = "session", "/sessions/"+d.session
			case k < 85:
				kind, path = "photo", "/photos/"+d.photos[rng.IntN(len(d.photos))]
			case k < 95:
				kind, path = "plan", "/dogs/"+d.id+"/plan"
			default:
				kind, path = "compare", "/compare?a="+d.photos[0]+"&b="+d.photos[len(d.photos)-1]
			}
			err := fetch(c, path)
			l.note("page "+kind, time.Since(due), err)
		case n < 90:
			kind := "thumb"
			if rng.IntN(4) == 0 {
				kind = "view"
			}
			err := fetch(c, "/photos/"+d.photos[rng.IntN(len(d.photos))]+"/picture/"+kind)
			l.note("picture "+kind, time.Since(due), err)
		default:
			l.note("log", 0, nil)
			zones := []string{"back", "loin", "rump", "withers", "thigh", "neck", "shoulder", "skull"}
			form := url.Values{"rev": {strconv.Itoa(d.rev)}, "zones": {zones[rng.IntN(len(zones))]}, "do": {"take"}, "share": {strconv.FormatFloat(0.1+0.01*float64(rng.IntN(60)), 'f', 2, 64)}}
			resp, err := c.post("/sessions/"+d.session+"/log", form)
			if err == nil {
				err = c.done(resp, io.Discard)
			}
			if err == nil {
				if resp.StatusCode == http.StatusSeeOther {
					d.rev++ // her dogs are nobody else's: what a page would show is known
				} else {
					err = errors.New("log: " + resp.Status)
				}
			}
			l.note("log", time.Since(due), err)
			if err != nil { // somebody else, or the server, changed it: look again
				if again, err := l.look(c, d.id); err == nil {
					d.rev = again.rev
				}
			}
		}
		due = due.Add(beat)
	}
}

func (l *load) note(kind string, took time.Duration, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if err != nil {
		l.wrong[kind+": "+err.Error()]++
		return
	}
	if took > 0 {
		l.took[kind] = append(l.took[kind], took)
	}
}

// dawdle opens a connection and sends a byte of a request now and then; where it is ended it comes again.
func (l *load) dawdle(ctx context.Context) {
	u, _ := url.Parse(l.url)
	for ctx.Err() == nil {
		slowly(ctx, u.Host)
		time.Sleep(100 * time.Millisecond)
	}
}

func (l *load) report() {
	var all []time.Duration
	for _, kind := range slices.Sorted(keys(l.took)) {
		t := l.took[kind]
		all = append(all, t...)
		fmt.Println(line(kind, t))
	}
	fmt.Println(line("all", all))
	for _, w := range slices.Sorted(keys(l.wrong)) {
		fmt.Printf("wrong %d times: %s\n", l.wrong[w], w)
	}
}

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

func line(kind string, t []time.Duration) string {
	if len(t) == 0 {
		return kind + ": none"
	}
	slices.Sort(t)
	at := func(p float64) float64 { return float64(t[min(len(t)-1, int(p*float64(len(t))))]) / 1e6 }
	return fmt.Sprintf("%-14s %6d  p50 %6.1f  p90 %6.1f  p99 %6.1f  worst %7.1f ms", kind, len(t), at(0.5), at(0.9), at(0.99), at(1))
}

// watch says every ten seconds how many files the process holds open and, apart, how many connections, its memory, and the
// length of the write-ahead log.
func (l *load) watch(ctx context.Context) {
	for began := time.Now(); ; {
		files, _ := os.ReadDir(fmt.Sprintf("/proc/%d/fd", l.pid))
		status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", l.pid))
		rss := ""
		for s := range strings.Lines(string(status)) {
			if strings.HasPrefix(s, "VmRSS:") {
				rss = strings.Join(strings.Fields(s)[1:], " ")
			}
		}
		wal, held, conns := int64(0), 0, 0
		for _, f := range files {
			to, err := os.Readlink(fmt.Sprintf("/proc/%d/fd/%s", l.pid, f.Name()))
			switch {
			case err != nil: // closed meanwhile
			case strings.HasPrefix(to, "socket:"):
				conns++
			default:
				held++
			}
			if err == nil && filepath.Ext(to) == ".db-wal" {
				if info, err := os.Stat(to); err == nil {
					wal = info.Size()
				}
			}
		}
		fmt.Printf("%4.0f s  %d files  %d connections  %s  log %.1f MiB\n", time.Since(began).Seconds(), held, conns, rss, float64(wal)/(1<<20))
		select {
		case <-ctx.Done():
			return
		case <-time.After(10 * time.Second):
		}
	}
}
