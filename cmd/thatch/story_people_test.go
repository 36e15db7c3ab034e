package main

import (
	"bytes"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"testing"
	"thatch/cmd/thatch/tested"
	"time"
)

// openSalon is the real binary serving a salon, with everything that it says.
type openSalon struct {
	t        *testing.T
	base     string
	out, log *heard
}

// heard is what a stream said so far.
type heard struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *heard) Write(p []byte) (int, error) { s.mu.Lock(); defer s.mu.Unlock(); return s.b.Write(p) }
func (s *heard) String() string              { s.mu.Lock(); defer s.mu.Unlock(); return s.b.String() }

func serveAndListen(t *testing.T, data string) *openSalon {
	t.Helper()
	name, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	x := &openSalon{t: t, out: &heard{}, log: &heard{}}
	cmd := exec.Command(name, "serve", "--data", data, "--listen", "127.0.0.1:0")
	cmd.Stdout, cmd.Stderr = x.out, x.log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	for range 400 {
		if m := regexp.MustCompile(`open at (http://[0-9.:]+)`).FindStringSubmatch(x.out.String()); m != nil {
			x.base = m[1]
			return x
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("the program does not serve: %s%s", x.out, x.log)
	return nil
}

var codeForm = regexp.MustCompile(`(?m)^[0-9a-z]{2}(-[0-9a-z]{2}){7}$`)

// caller is a browser, or without cookies a program.
type caller struct {
	x *openSalon
	c http.Client
}

func (x *openSalon) visitor() *caller {
	jar, err := cookiejar.New(nil)
	if err != nil {
		x.t.Fatal(err)
	}
	return &caller{x, http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// do asks; fields make it a POST, bearer the call of a program. It tells "200", or "303 /where".
func (v *caller) do(path, bearer string, fields ...string) (status, text string) {
	v.x.t.Helper()
	method, body := http.MethodGet, io.Reader(nil)
	if len(fields) > 0 {
		form := url.Values{}
		for i := 0; i+1 < len(fields); i += 2 {
			form.Set(fields[i], fields[i+1])
		}
		method, body = http.MethodPost, strings.NewReader(form.Encode())
	}
	r, err := http.NewRequest(method, v.x.base+strings.TrimPrefix(path, v.x.base), body)
	if err != nil {
		v.x.t.Fatal(err)
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if bearer != "" {
		r.Header.Set("Authorization", "Bearer "+bearer)
	}
	resp, err := v.c.Do(r)
	if err != nil {
		v.x.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		v.x.t.Fatal(err)
	}
	return strings.TrimSpace(resp.Status[:3] + " " + resp.Header.Get("Location")), string(b)
}

func (v *caller) want(want, path string, fields ...string) string {
	v.x.t.Helper()
	got, text := v.do(path, "", fields...)
	if got != want {
		v.x.t.Fatalf("%s: %s, want %s: %.2000s", path, got, want, text)
	}
	return text
}

func readOut(t *testing.T, pattern, text string) string {
	t.Helper()
	m := regexp.MustCompile(pattern).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("no %s in %.3000s", pattern, text)
	}
	return m[1]
}

// The first owner comes in by the code in the terminal, invites a groomer and a reader; the groomer works, the reader may
// not; a program works by a token; an account ends at once; a forgotten password is set anew. Nothing secret is logged.
func TestThePeopleOfASalonComeAndGo(t *testing.T) {
	const ada, bo, cy, fresh = "a heron on the weir", "two otters by the mill", "three newts in a pail", "four wrens along a lane"
	data := t.TempDir()
	x := serveAndListen(t, data)
	var code string
	for range 100 {
		if code = codeForm.FindString(x.out.String()); code != "" {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if code == "" {
		t.Fatalf("no code in %q", x.out)
	}
	owner, groomer, reader, stranger := x.visitor(), x.visitor(), x.visitor(), x.visitor()
	stranger.want("200", "/") // nobody has an account: who sits here is the owner
	owner.want("422", "/owner", "code", "00-00-00-00-00-00-00-00", "name", "Ada", "password", ada)
	owner.want("303 /people", "/owner", "code", strings.ToUpper(strings.ReplaceAll(code, "-", "")), "name", "Ada", "password", ada)
	stranger.want("422", "/owner", "code", code, "name", "Eve", "password", "an egret in the reeds")
	stranger.want("303 /signin", "/")
	stranger.want("303 /signin?next=%2Fpeople", "/people")

	invitations := []string{}
	for who, role := range map[string]string{"Bo": "groomer", "Cy": "reader"} {
		text := owner.want("200", "/people/invitations", "for", who, "role", role)
		link := readOut(t, `value="(http://[^"]+/join/[^"]+)"`, text)
		invitations = append(invitations, link)
		v, password := groomer, bo
		if who == "Cy" {
			v, password = reader, cy
		}
		v.want("303 /", link, "name", who, "password", password)
		stranger.want("404", link)
		stranger.want("404", link, "name", "Eve", "password", "an egret in the reeds")
	}
	where, _ := groomer.do("/dogs", "", "name", "Wisp")
	dog := readOut(t, `303 (/dogs/[0-9a-z]{16})`, where)
	groomer.want("403", "/people")
	groomer.want("403", "/settings")
	groomer.want("403", "/changes")
	reader.want("200", dog)
	reader.want("403", "/dogs", "name", "Bracken")
	reader.want("403", dog+"/trash", "rev", "1")

	text := groomer.want("200", "/account/tokens", "token_name", "The camera", "scope", "photos", "days", "30", "password", bo)
	token := readOut(t, `value="(thatch_[^"]+)"`, text)
	program := x.visitor()
	if got, text := program.do("/api/v1/dogs", token); got != "200" || !strings.Contains(text, "Wisp") {
		t.Errorf("a program with a token: %s, %s", got, text)
	}
	if got, _ := program.do("/api/v1/dogs", token+"x"); got != "401" {
		t.Errorf("a wrong token: %s", got)
	}
	if got, _ := program.do("/people", token); got != "303 /signin?next=%2Fpeople" {
		t.Errorf("a token on a page: %s", got)
	}

	changes := owner.want("200", "/changes")
	for _, want := range []string{"started the dog Wisp", "invited Bo as Groomer", "invited Cy as Looks only", "came in by invitation"} {
		if !strings.Contains(changes, want) {
			t.Errorf("the log of changes does not say %q", want)
		}
	}
	id := readOut(t, `/people/([0-9a-z]{16})" aria-label="Open Bo"`, owner.want("200", "/people"))
	owner.want("303 /people", "/people/"+id+"/end", "x", "")
	groomer.want("303 /signin?next=%2Faccount", "/account")
	if got, _ := program.do("/api/v1/dogs", token); got != "401" {
		t.Errorf("the token of an ended account: %s", got)
	}
	groomer.want("422", "/signin", "name", "Bo", "password", bo)

	newCode := tested.OwnersCodeOf(t, data)
	again := x.visitor()
	again.want("303 /people", "/owner", "code", newCode, "name", "ada", "password", fresh)
	owner.want("303 /signin?next=%2Fpeople", "/people") // the old sign-ins have ended
	owner.want("422", "/signin", "name", "Ada", "password", ada)
	owner.want("303 /people", "/signin", "name", "Ada", "password", fresh, "next", "/people")
	again.want("303 /signin", "/signout", "x", "")
	again.want("303 /signin", "/")

	secrets := append([]string{ada, bo, cy, fresh, url.QueryEscape(ada), code, newCode, token, strings.TrimPrefix(token, "thatch_")}, invitations...)
	for _, link := range invitations {
		secrets = append(secrets, link[strings.LastIndexByte(link, '/')+1:])
	}
	at, _ := url.Parse(x.base)
	for _, v := range []*caller{owner, groomer, reader, again} {
		for _, c := range v.c.Jar.Cookies(at) {
			secrets = append(secrets, c.Value)
		}
	}
	for _, secret := range secrets {
		if strings.Contains(x.log.String(), secret) {
			t.Errorf("the log has %q:\n%s", secret, x.log)
		}
	}
	if len(secrets) < 15 || !strings.Contains(x.log.String(), "route=/join/{token}") {
		t.Errorf("%d secrets, and a log of %q: the test looks at nothing", len(secrets), x.log)
	}
}
