package browsed

import (
	"strings"
	"testing"
	"thatch/cmd/thatch/tested"
)

// Others are let in on a phone: the first owner, an invitation, a new groomer in a browser of her own, and out again.
func TestPeopleAreLetInOnAPhone(t *testing.T) {
	const owners, groomers = "a heron on the weir", "two otters by the mill"
	data := t.TempDir()
	base, _ := tested.Start(t, "serve", "--data", data)
	b := newBrowser(t, base, 390, "light")
	b.open("/people")
	b.seen("people-none")
	b.open("/settings")
	b.follow(`a[href="/owner"]`)
	b.seen("owner")
	b.fill(`[name="code"]`, tested.OwnersCodeOf(t, data))
	b.fill(`[name="name"]`, "Ada Lovage")
	b.fill(`[name="password"]`, "password1234")
	b.follow(`form[action="/owner"] button:not([type])`)
	if !strings.Contains(b.text(".fault"), "first that anybody would try") {
		t.Errorf("a common password is answered %q", b.text(".fault"))
	}
	if js[string](b, `document.querySelector('[name="password"]').value`) != "" {
		t.Error("the password came back with the form")
	}
	b.seen("owner-refused")
	b.click(`[data-show-password]`)
	if js[string](b, `document.querySelector('[name="password"]').type`) != "text" {
		t.Error("the password cannot be looked at")
	}
	b.fill(`[name="password"]`, owners)
	b.follow(`form[action="/owner"] button:not([type])`)

	b.fill(`[name="for"]`, "Bo")
	b.follow(`form[action="/people/invitations"] button`)
	link := js[string](b, `document.querySelector("#f-link").value`)
	b.seen("people")

	bo := newBrowser(t, base, 390, "light")
	bo.open("/")
	bo.seen("signin")
	bo.open(link)
	bo.seen("join")
	bo.fill(`[name="password"]`, groomers)
	bo.follow(`form[action^="/join/"] button:not([type])`)
	if !strings.Contains(bo.text(".band-who"), "Bo") || bo.has(`a[href="/settings"]`) {
		t.Errorf("the band says %q", bo.text(".band"))
	}
	bo.seen("groomer-home")
	bo.open(link)
	if !strings.Contains(bo.text("main"), "not good any more") {
		t.Errorf("an invitation that was used says %q", bo.text("main"))
	}
	bo.open("/account")
	bo.click(`details summary`)
	bo.fill(`[name="token_name"]`, "The camera")
	bo.fill(`#f-pass-token`, groomers)
	bo.follow(`form[action="/account/tokens"] button:not([type])`)
	if !strings.HasPrefix(js[string](bo, `document.querySelector("#f-secret").value`), "thatch_") {
		t.Error("the token is not shown")
	}
	bo.seen("account")
	bo.open("/dogs/new")
	bo.fill(`[name="name"]`, "Wisp")
	bo.follow(`form[action="/dogs"] button`)

	b.open("/changes")
	if text := b.text(".changes"); !strings.Contains(text, "Bo started the dog Wisp") || !strings.Contains(text, "Ada Lovage invited Bo as Groomer") || strings.Contains(text, "{") || strings.Contains(text, "changes.") {
		t.Errorf("the log of changes says %q", text)
	}
	b.seen("changes")
	b.open("/people")
	b.follow(`a[aria-label="Open Bo"]`)
	b.seen("person")
	b.follow(`form[action$="/end"]:not([action$="/signins/end"]):not([action*="/tokens/"]) button`)
	bo.open("/dogs/new")
	if !strings.Contains(bo.where(), "/signin") {
		t.Errorf("who was ended is at %s", bo.where())
	}
	bo.fill(`[name="name"]`, "Bo")
	bo.fill(`[name="password"]`, groomers)
	bo.follow(`form[action="/signin"] button:not([type])`)
	if !strings.Contains(bo.text(".fault"), "do not go together") {
		t.Errorf("who was ended is told %q", bo.text(".fault"))
	}
	bo.seen("signin-refused")
	b.follow(`form[action="/signout"] button`)
	b.fill(`[name="name"]`, " ada  LOVAGE ")
	b.fill(`[name="password"]`, owners)
	b.follow(`form[action="/signin"] button:not([type])`)
	b.until("the owner is in", `!!document.querySelector(".band-who")`)
}
