package web

import (
	"context"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/v2"
	"golang.org/x/time/rate"

	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
)

// Guest is who looks at the pages, and in which role.
type Guest struct {
	Name string
	Role sight.Role
}

// Door lets people in by name and password.
type Door interface {
	// Enter gives who it is; false where name and password do not belong
	// together.
	Enter(name, password string) (Guest, bool, error)
}

// doors keeps who is in: a session for everybody who signed in, and, where nobody
// has to, whether the laptop is in the driver's hands.
type doors struct {
	door     Door
	lead     string // who it is where nobody signs in
	sessions *scs.SessionManager
	tries    tries

	mu     sync.Mutex
	handed *handed // where nobody signs in: the whole machine is the driver's
}

// handed says that pages are shown as the driver may see them, until a word is
// said.
type handed struct {
	name string
	hash string // argon2id of the word
}

const (
	sessionName   = "name"
	sessionRole   = "role"
	sessionHanded = "handed" // argon2id of the word that takes the tablet back
	sessionBefore = "before" // who it was before
)

func newDoors(o Options) *doors {
	s := scs.New()
	s.Lifetime, s.IdleTimeout = 14*time.Hour, 6*time.Hour // a long day at the track
	s.Cookie.Name, s.Cookie.HttpOnly, s.Cookie.SameSite, s.Cookie.Secure, s.Cookie.Path = "session", true, http.SameSiteStrictMode, o.Secure, "/"
	return &doors{door: o.Door, lead: o.Lead, sessions: s}
}

// guest gives who asks; false where nobody has signed in who has to.
func (d *doors) guest(ctx context.Context) (Guest, bool) {
	if d.door == nil {
		d.mu.Lock()
		defer d.mu.Unlock()
		if d.handed != nil {
			return Guest{d.handed.name, sight.Driver}, true
		}
		return Guest{d.lead, sight.Lead}, true
	}
	name, role := d.sessions.GetString(ctx, sessionName), d.sessions.GetString(ctx, sessionRole)
	if name == "" {
		return Guest{}, false
	}
	return Guest{name, sight.Role(role)}, true
}

// tries bounds how often a password may be tried from one address and for one
// name: five at once, then one in ten seconds. Own choice.
type tries struct {
	mu   sync.Mutex
	from map[string]*rate.Limiter
}

const mostTriers = 10_000

func (t *tries) may(key string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	l := t.from[key]
	if l == nil {
		if t.from == nil || len(t.from) >= mostTriers {
			t.from = map[string]*rate.Limiter{}
		}
		l = rate.NewLimiter(rate.Every(10*time.Second), 5)
		t.from[key] = l
	}
	return l.Allow()
}

// errTooOften is what somebody is told who tries too often.
var errTooOften = fault.New(fault.Conflict, "this was tried too often").WithHint("wait for a minute, then try again")

func (d *doors) mayTry(r *http.Request, name string) error {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if !d.tries.may("from "+host) || !d.tries.may("name "+strings.ToLower(name)) {
		return errTooOften
	}
	return nil
}

// signing is the body of the page where one signs in.
type signing struct{ Back, Name, Wrong string }

// signIn shows the page where one signs in.
func (f *face) signIn(w http.ResponseWriter, r *http.Request) error {
	if f.doors.door == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	return f.hand(w, r, http.StatusOK, "signin", frame{Title: say("Sign in to see the programmes"), Body: signing{Back: local(r.URL.Query().Get("back"))}}, nil)
}

// enterBy signs somebody in.
func (f *face) enterBy(w http.ResponseWriter, r *http.Request) error {
	if f.doors.door == nil {
		return fault.New(fault.NotFound, "nobody has to sign in here")
	}
	if err := readForm(r); err != nil {
		return err
	}
	name, back := r.PostForm.Get("name"), local(r.PostForm.Get("back"))
	if err := f.doors.mayTry(r, name); err != nil {
		return err
	}
	who, ok, err := f.doors.door.Enter(name, r.PostForm.Get("password"))
	if err != nil {
		return err
	}
	if !ok {
		return f.hand(w, r, http.StatusUnauthorized, "signin", frame{Title: say("Name and password do not belong together"),
			Body: signing{Back: back, Name: name, Wrong: "Nobody was signed in. Passwords are given by whoever leads the programme: bookend people add."}}, nil)
	}
	ctx := r.Context()
	if err := f.doors.sessions.RenewToken(ctx); err != nil { // a token from before must not become one of after
		return fault.New(fault.Internal, "signing in: %w", err)
	}
	f.doors.sessions.Put(ctx, sessionName, who.Name)
	f.doors.sessions.Put(ctx, sessionRole, string(who.Role))
	http.Redirect(w, r, back, http.StatusSeeOther)
	return nil
}

// leave signs somebody out.
func (f *face) leave(w http.ResponseWriter, r *http.Request) error {
	if err := f.doors.sessions.Destroy(r.Context()); err != nil {
		return fault.New(fault.Internal, "signing out: %w", err)
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// handing is the body of the page that hands pages over to the driver, or takes
// them back.
type handing struct {
	Handed bool
	Name   string
	Back   string
}

// handOver shows the page that hands over.
func (f *face) handOver(w http.ResponseWriter, r *http.Request) error {
	who, _ := f.doors.guest(r.Context())
	on := f.isHanded(r)
	title := say("Hand these pages over to whoever drives")
	if on {
		title = say("These pages are with the driver")
	}
	return f.hand(w, r, http.StatusOK, "handover", frame{Title: title, Body: handing{Handed: on, Name: who.Name, Back: local(r.URL.Query().Get("back"))}}, nil)
}

func (f *face) isHanded(r *http.Request) bool {
	if f.doors.door == nil {
		f.doors.mu.Lock()
		defer f.doors.mu.Unlock()
		return f.doors.handed != nil
	}
	return f.doors.sessions.GetString(r.Context(), sessionHanded) != ""
}

// handTo hands the pages over: from now on they show what whoever drives may see,
// until the word is said. Where nobody signs in that holds for every window of
// this machine.
func (f *face) handTo(w http.ResponseWriter, r *http.Request) error {
	who, ok := f.doors.guest(r.Context())
	if !ok || who.Role == sight.Driver || who.Role == sight.Client {
		return forbidden("hand pages over")
	}
	if err := readForm(r); err != nil {
		return err
	}
	name, word := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("word")
	if name == "" || len(word) < 4 || len(word) > 256 {
		return fault.New(fault.Invalid, "the driver's name, and a word of at least four characters that takes the pages back, are needed").WithHint("nobody else has to know the word")
	}
	hash, err := argon2id.CreateHash(word, argon2id.DefaultParams)
	if err != nil {
		return fault.New(fault.Internal, "keeping the word: %w", err)
	}
	if f.doors.door == nil {
		f.doors.mu.Lock()
		f.doors.handed = &handed{name, hash}
		f.doors.mu.Unlock()
	} else {
		ctx := r.Context()
		f.doors.sessions.Put(ctx, sessionBefore, who.Name+"\n"+string(who.Role))
		f.doors.sessions.Put(ctx, sessionHanded, hash)
		f.doors.sessions.Put(ctx, sessionName, name)
		f.doors.sessions.Put(ctx, sessionRole, string(sight.Driver))
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

// handBack takes the pages back from the driver.
func (f *face) handBack(w http.ResponseWriter, r *http.Request) error {
	if err := readForm(r); err != nil {
		return err
	}
	if err := f.doors.mayTry(r, "the word"); err != nil {
		return err
	}
	hash := f.doors.sessions.GetString(r.Context(), sessionHanded)
	if f.doors.door == nil {
		f.doors.mu.Lock()
		if f.doors.handed != nil {
			hash = f.doors.handed.hash
		}
		f.doors.mu.Unlock()
	}
	if hash == "" {
		return fault.New(fault.Conflict, "these pages are not with the driver")
	}
	word := r.PostForm.Get("word")
	if len(word) > 256 {
		word = ""
	}
	same, err := argon2id.ComparePasswordAndHash(word, hash)
	if err != nil {
		return fault.New(fault.Internal, "comparing the word: %w", err)
	}
	if !same {
		return fault.New(fault.Invalid, "this is not the word").WithHint("whoever handed the pages over knows it")
	}
	if f.doors.door == nil {
		f.doors.mu.Lock()
		f.doors.handed = nil
		f.doors.mu.Unlock()
	} else {
		ctx := r.Context()
		name, role, _ := strings.Cut(f.doors.sessions.GetString(ctx, sessionBefore), "\n")
		f.doors.sessions.Put(ctx, sessionName, name)
		f.doors.sessions.Put(ctx, sessionRole, role)
		f.doors.sessions.Remove(ctx, sessionHanded)
		f.doors.sessions.Remove(ctx, sessionBefore)
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

// local gives an address of these pages, or the first page's.
func local(back string) string {
	if !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.ContainsAny(back, "\\\r\n") {
		return "/"
	}
	return back
}

// forbidding is a fault whose status says that somebody is known and may not.
type forbidding struct{ cause *fault.Error }

func forbidden(what string) error {
	return forbidding{fault.New(fault.Invalid, "your role may not %s", what).WithHint("whoever leads the programme may")}
}

func (f forbidding) Error() string { return f.cause.Error() }
func (f forbidding) Unwrap() error { return f.cause }

// errNobody says that nobody has signed in.
var errNobody = forbidding{fault.New(fault.Invalid, "nobody has signed in")}

// refused gives the status that answers somebody who may not do what they ask: 401
// where nobody has signed in, and a tablet sends again later what it keeps.
func refused(err error) int {
	if err == error(errNobody) {
		return http.StatusUnauthorized
	}
	return http.StatusForbidden
}

// who gives the guest of a request, or sends to where one signs in. matters are
// what a page shows; the guest's role has to see all of them.
func (f *face) who(r *http.Request, matters ...sight.Matter) (Guest, error) {
	g, ok := f.doors.guest(r.Context())
	if !ok {
		return g, errNobody
	}
	for _, m := range matters {
		if !sight.May(g.Role, m, false) {
			return g, forbidden("see this")
		}
	}
	return g, nil
}

// behind lets a page be shown to those alone who may see what it is about.
func (f *face) behind(show func(http.ResponseWriter, *http.Request) error, matters ...sight.Matter) http.HandlerFunc {
	return f.page(func(w http.ResponseWriter, r *http.Request) error {
		if _, err := f.who(r, matters...); err != nil {
			return err
		}
		return show(w, r)
	})
}

// writes tells whether a role enters things about runs (leaves them out).
func writes(r sight.Role) bool { return slices.Contains([]sight.Role{sight.Lead, sight.Engineer}, r) }
