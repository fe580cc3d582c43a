package api

import (
	"fmt"
	"math"
	"net/netip"
	"strconv"
	"sync"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"golang.org/x/time/rate"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// Limits say how often may be asked. Each is a bucket that holds a minute's
// worth of requests and fills up evenly, so that a burst is served and a stream
// is not. 0 is the default, negative is no limit.
type Limits struct {
	// PersonPerMinute: by one person, however many their windows; 600.
	PersonPerMinute int
	// WorkshopPerMinute: by all people of a workshop together; 6000.
	WorkshopPerMinute int
	// AddressPerMinute: without a token (signing in, renewing, following a
	// link) from one address on the network; 60. All people behind one router
	// share it, and all behind a proxy that Config.Proxies does not count.
	AddressPerMinute int
}

const (
	defaultPersonPerMinute   = 600
	defaultWorkshopPerMinute = 6000
	defaultAddressPerMinute  = 60
	// bucketsHeld is how many buckets of a kind are remembered. One that is
	// forgotten begins again full: it takes so many others asking in between.
	bucketsHeld = 20_000
)

// limits are the buckets of a server.
type limits struct {
	person   *buckets[uuid.UUID]
	workshop *buckets[uuid.UUID]
	address  *buckets[netip.Prefix]
}

func newLimits(l Limits) limits {
	return limits{
		person:   newBuckets[uuid.UUID]("person", l.PersonPerMinute, defaultPersonPerMinute),
		workshop: newBuckets[uuid.UUID]("workshop", l.WorkshopPerMinute, defaultWorkshopPerMinute),
		address:  newBuckets[netip.Prefix]("address", l.AddressPerMinute, defaultAddressPerMinute),
	}
}

// buckets of one kind; nil sets no limit.
type buckets[K comparable] struct {
	name string
	// policy as RateLimit-Policy has it.
	policy    string
	perMinute int

	mu   sync.Mutex
	held *recent[K, *rate.Limiter]
}

func newBuckets[K comparable](name string, perMinute, otherwise int) *buckets[K] {
	if perMinute == 0 {
		perMinute = otherwise
	}
	if perMinute < 0 {
		return nil
	}
	return &buckets[K]{
		name: name, policy: fmt.Sprintf("%q;q=%d;w=60", name, perMinute), perMinute: perMinute,
		held: newRecent[K, *rate.Limiter](bucketsHeld),
	}
}

// taken is what a bucket says to one request.
type taken struct {
	name, policy string
	ok           bool
	left         int
	// full is when the bucket will be full again; next when it has one more.
	full, next time.Duration
}

// take one request out of a bucket.
func (b *buckets[K]) take(key K, now time.Time) taken {
	b.mu.Lock()
	defer b.mu.Unlock()
	bucket, ok := b.held.get(key)
	if !ok {
		bucket = rate.NewLimiter(rate.Limit(float64(b.perMinute)/time.Minute.Seconds()), b.perMinute)
		b.held.put(key, bucket)
	}
	t := taken{name: b.name, policy: b.policy, ok: bucket.AllowN(now, 1)}
	tokens := bucket.TokensAt(now)
	t.left = max(int(math.Floor(tokens)), 0)
	t.full = b.filled(float64(b.perMinute) - tokens)
	t.next = b.filled(1 - tokens)
	return t
}

// filled is how long so many take to come in.
func (b *buckets[K]) filled(tokens float64) time.Duration {
	return time.Duration(tokens / float64(b.perMinute) * float64(time.Minute))
}

// limitPrincipal counts a request of somebody signed in.
func (s *Server) limitPrincipal(c *gin.Context, p auth.Principal) error {
	now := s.now()
	var all []taken
	if s.limits.person != nil {
		all = append(all, s.limits.person.take(p.Person, now))
	}
	if s.limits.workshop != nil {
		all = append(all, s.limits.workshop.take(p.Workshop, now))
	}
	return within(c, all)
}

// limitAddress counts a request of somebody who has no token.
func (s *Server) limitAddress(c *gin.Context) error {
	if s.limits.address == nil {
		return nil
	}
	return within(c, []taken{s.limits.address.take(household(s.proxies.asks(c.Request)), s.now())})
}

// household is what an address is counted as: one of version 4 as itself, of
// one of version 6 the 64 bits that name a household.
func household(at netip.Addr) netip.Prefix {
	address, bits := at.Unmap(), 64
	if address.Is4() {
		bits = 32
	}
	prefix, err := address.WithZone("").Prefix(bits)
	if err != nil {
		return netip.Prefix{} // what cannot be told apart shares a bucket
	}
	return prefix
}

// within tells the caller what is left, in the headers of
// draft-ietf-httpapi-ratelimit-headers, and refuses a request past a limit.
func within(c *gin.Context, all []taken) error {
	if len(all) == 0 {
		return nil
	}
	var policies, left []byte
	var wait time.Duration
	refused := ""
	for i, t := range all {
		if i > 0 {
			policies, left = append(policies, ", "...), append(left, ", "...)
		}
		policies = append(policies, t.policy...)
		left = strconv.AppendQuote(left, t.name)
		left = strconv.AppendInt(append(left, ";r="...), int64(t.left), 10)
		left = strconv.AppendInt(append(left, ";t="...), int64(seconds(t.full)), 10)
		if !t.ok {
			wait, refused = max(wait, t.next), t.name
		}
	}
	c.Header("RateLimit-Policy", string(policies))
	c.Header("RateLimit", string(left))
	if refused == "" {
		return nil
	}
	return &problem{
		code:   openapi.ProblemCodeTooManyRequests,
		detail: "More was asked than one " + refused + " may in so short a time.",
		remedy: "Try again after the seconds in Retry-After; RateLimit says how much is left.",
		retry:  max(wait, time.Second),
	}
}

// seconds rounds up to whole ones, as headers have them.
func seconds(d time.Duration) int { return int((d + time.Second - 1) / time.Second) }
