package browsed

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thatch/cmd/thatch/tested"
)

// Without encryption, and not on this machine's own name, a browser says less of where a request comes from. What is seen
// only there: an invitation can be taken, a language chosen, and the client's page read in it.
func TestAnInvitationIsTakenWithoutEncryption(t *testing.T) {
	data := t.TempDir()
	base, _ := tested.Start(t, "serve", "--data", data, "--plain-http-lan", "--host", "salon.test")
	base = strings.Replace(base, "127.0.0.1", "salon.test", 1)
	here := chromedp.Flag("host-resolver-rules", "MAP salon.test 127.0.0.1")
	b := newBrowser(t, base, 390, "light", here)
	b.open("/owner")
	if js[bool](b, `isSecureContext`) {
		t.Fatal("the browser takes this for a secure place: nothing is tried here")
	}
	b.fill(`[name="code"]`, tested.OwnersCodeOf(t, data))
	b.fill(`[name="name"]`, "Ada Lovage")
	b.fill(`[name="password"]`, "a heron on the weir")
	b.follow(`form[action="/owner"] button:not([type])`)
	b.open("/people")
	b.fill(`[name="for"]`, "Bo")
	b.follow(`form[action="/people/invitations"] button`)
	link := js[string](b, `document.querySelector("#f-link").value`)

	bo := newBrowser(t, base, 390, "light", here)
	bo.open(link)
	bo.follow(`.langs button[value="de"]`)
	if got := js[string](bo, `document.documentElement.lang`); got != "de" || !strings.Contains(bo.where(), "/join/") {
		t.Errorf("after choosing German the page is in %q, at another place: %v", got, !strings.Contains(bo.where(), "/join/"))
	}
	bo.fill(`[name="password"]`, "two otters by the mill")
	bo.follow(`form[action^="/join/"] button:not([type])`)
	if !strings.Contains(bo.text(".band-who"), "Bo") {
		t.Errorf("who took the invitation is at %s: %q", bo.where(), bo.text("main"))
	}
}
