package apitest

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	pence "wainscot/pricing/money"
)

// moneySteps is how many operations TestMoneyWhateverHappens does;
// WAINSCOT_MONEY_STEPS asks for more.
const moneySteps = 160

// A job, a receipt and a placement as they should be, in minor units.
type modelJob struct {
	id                string
	total, held, owed int64 // owed on the invoice; below nothing the customer is owed
	invoiced          bool
	invoice           string // id
	credited          int64
	deposits          []*modelPlacement // that no invoice has deducted, in order
}

type modelPlacement struct {
	job              *modelJob
	number           int
	amount, credited int64
	back             bool
	deposit          bool
}

type modelReceipt struct {
	id         string
	version    int
	amount     int64
	left       int64
	placements []*modelPlacement
	refunded   bool
	lost       bool
}

// moneyModel is the money of a workshop as it should be.
type moneyModel struct {
	s        seller
	r        *rand.Rand
	jobs     []*modelJob
	receipts []*modelReceipt
	did      map[string]int
}

// TestMoneyWhateverHappens: money comes in, is placed, taken back, given back,
// lost, invoiced and credited in any order, and every request is sent twice. After
// each step what is held is, for each job, what was placed before the invoice less
// what was applied, given back and taken back; never below nothing; what is
// refused changes nothing; and in the end all accounts come to nothing and the
// journal holds.
func TestMoneyWhateverHappens(t *testing.T) {
	steps := moneySteps
	if asked, err := strconv.Atoi(os.Getenv("WAINSCOT_MONEY_STEPS")); err == nil {
		steps = asked
	}
	w := newWorld(t)
	m := &moneyModel{s: seller{w, t, w.Ours}, r: rand.New(rand.NewPCG(7, 11)), did: map[string]int{}}
	for range 3 {
		m.begin()
	}
	do := []struct {
		name string
		step func() bool
	}{
		{"receive", m.receive}, {"receive", m.receive}, {"place", m.place}, {"place", m.place}, {"place", m.place}, {"take back", m.takeBack},
		{"give back", m.giveBack}, {"lose", m.lose}, {"refund", m.refund}, {"invoice", m.invoice}, {"credit", m.credit},
	}
	for range steps {
		one := do[m.r.IntN(len(do))]
		if !one.step() {
			continue
		}
		m.did[one.name]++
		m.hold()
		if t.Failed() {
			t.Fatalf("after %s, of %v", one.name, m.did)
		}
	}
	if testing.Verbose() {
		t.Logf("done: %v", m.did)
	}
	err := w.Store.As(w.Ours.Principal[auth.Owner]).Read(t.Context(), func(tx store.ReadTx) error { _, err := tx.VerifyJournal(); return err })
	if err != nil {
		t.Error(err)
	}
}

// begin agrees another job, whose van is here.
func (m *moneyModel) begin() {
	s, t := m.s, m.s.t
	t.Helper()
	j := s.job(nil)
	s.at(auth.Workshop, http.MethodPost, "/v1/jobs/"+j.Id+"/attachments", object{"media_type": "image/png", "content": "cGhvdG8="}).into(t, http.StatusCreated, &openapi.JobAttachment{})
	s.at(auth.Sales, http.MethodPost, "/v1/jobs/"+j.Id+"/arrival", conditionOf()).into(t, http.StatusOK, &openapi.JobBoard{})
	m.jobs = append(m.jobs, &modelJob{id: j.Id, total: minorOf(s.account(j.Id).Total)})
}

func minorOf(m openapi.Money) int64 {
	a, err := pence.Parse(m.Amount, pence.Currency(m.Currency))
	if err != nil {
		panic(err)
	}
	return a.Minor()
}

func sent(minor int64) object {
	a, err := pence.FromMinor(minor, "GBP")
	if err != nil {
		panic(err)
	}
	return object{"amount": a.Fixed(), "currency": "GBP"}
}

// twice sends a request two times under one key: the second changes nothing and
// is answered as the first.
func (m *moneyModel) twice(path, version string, body any) got {
	t := m.s.t
	t.Helper()
	c := call{method: http.MethodPost, path: path, of: m.s.Ours, role: auth.Books, body: body, header: http.Header{"Idempotency-Key": {uuid.NewString()}}}
	if version != "" {
		c.header.Set("If-Match", version)
	}
	first := m.s.exchange(t, c)
	if again := m.s.exchange(t, c); again.status != first.status && first.status < 300 {
		t.Errorf("%s sent again: %d, was %d", path, again.status, first.status)
	}
	return first
}

// want holds an answer against whether it should have been done.
func (m *moneyModel) want(g got, ok bool, what string) bool {
	m.s.t.Helper()
	done := g.status == http.StatusOK || g.status == http.StatusCreated
	if done != ok || !done && g.status != http.StatusConflict && g.status != http.StatusUnprocessableEntity {
		m.s.t.Errorf("%s: %d %s; should be done: %t", what, g.status, g.body, ok)
	}
	return done
}

func (j *modelJob) open() int64 {
	if j.invoiced {
		return j.owed
	}
	return j.total - j.held
}

func (r *modelReceipt) path() string { return "/v1/receipts/" + r.id }

func (r *modelReceipt) etag() string { return `"` + strconv.Itoa(r.version) + `"` }

// some is a sum that is often all there is, and at times a penny too much.
func (m *moneyModel) some(of int64) int64 {
	switch m.r.IntN(5) {
	case 0:
		return max(of, 1)
	case 1:
		return max(of, 0) + 1
	}
	return 1 + m.r.Int64N(max(of, 1))
}

func (m *moneyModel) receive() bool {
	sum := m.some(3_000_00)
	g := m.twice("/v1/receipts", "", object{"day": "2026-11-24", "into": []string{"bank", "cash", "card takings"}[m.r.IntN(3)], "amount": sent(sum)})
	if m.want(g, true, "receiving") {
		var r openapi.Receipt
		g.into(m.s.t, http.StatusCreated, &r)
		m.receipts = append(m.receipts, &modelReceipt{id: r.Id, version: 1, amount: sum, left: sum})
	}
	return true
}

func (m *moneyModel) receipt() *modelReceipt {
	if len(m.receipts) == 0 {
		return nil
	}
	return m.receipts[m.r.IntN(len(m.receipts))]
}

func (m *moneyModel) place() bool {
	r, j := m.receipt(), m.jobs[m.r.IntN(len(m.jobs))]
	if r == nil || len(r.placements) >= 50 {
		return false
	}
	part := m.some(min(r.left, max(j.open(), 1)))
	ok := part <= r.left && part <= j.open()
	g := m.twice(r.path()+"/placements", r.etag(), object{"parts": []any{object{"job": j.id, "amount": sent(part)}}})
	if !m.want(g, ok, fmt.Sprintf("placing %d of %d where %d is open", part, r.left, j.open())) {
		return true
	}
	p := &modelPlacement{job: j, number: len(r.placements) + 1, amount: part, deposit: !j.invoiced}
	r.placements, r.left, r.version = append(r.placements, p), r.left-part, r.version+1
	if j.invoiced {
		j.owed -= part
	} else {
		j.held += part
		j.deposits = append(j.deposits, p)
	}
	return true
}

// mayGoBack: a deposit of which part was given back already is not taken back
// whole while its job is not invoiced.
func (p *modelPlacement) mayGoBack() bool {
	return !p.back && (p.credited == 0 || !slices.Contains(p.job.deposits, p))
}

func (r *modelReceipt) takeBack(p *modelPlacement) {
	p.back = true
	r.left += p.amount
	r.version++
	j := p.job
	if i := slices.Index(j.deposits, p); i >= 0 {
		j.held -= p.amount
		j.deposits = slices.Delete(slices.Clone(j.deposits), i, i+1)
		return
	}
	j.owed += p.amount
}

func (m *moneyModel) takeBack() bool {
	r := m.receipt()
	if r == nil || len(r.placements) == 0 {
		return false
	}
	p := r.placements[m.r.IntN(len(r.placements))]
	g := m.twice(fmt.Sprintf("%s/placements/%d/take-back", r.path(), p.number), r.etag(), object{"reason": "It was another's."})
	if m.want(g, p.mayGoBack(), fmt.Sprintf("taking back %+v", *p)) {
		r.takeBack(p)
	}
	return true
}

func (m *moneyModel) giveBack() bool {
	r := m.receipt()
	if r == nil {
		return false
	}
	part := m.some(r.left)
	g := m.twice(r.path()+"/refunds", r.etag(), object{"amount": sent(part), "from": "bank"})
	if m.want(g, part <= r.left, fmt.Sprintf("giving back %d of %d", part, r.left)) {
		r.left, r.refunded, r.version = r.left-part, true, r.version+1
	}
	return true
}

func (m *moneyModel) lose() bool {
	r := m.receipt()
	if r == nil || m.r.IntN(3) > 0 { // or soon nothing is left
		return false
	}
	ok := !r.lost && !r.refunded
	for _, p := range r.placements {
		ok = ok && (p.back || p.mayGoBack())
	}
	g := m.twice(r.path()+"/loss", r.etag(), object{"how": "bounced", "reason": "Not paid."})
	if !m.want(g, ok, fmt.Sprintf("losing %+v", *r)) {
		return true
	}
	for _, p := range r.placements {
		if !p.back {
			r.takeBack(p)
		}
	}
	r.lost, r.left, r.version = true, 0, r.version+1
	return true
}

func (m *moneyModel) refund() bool {
	j := m.jobs[m.r.IntN(len(m.jobs))]
	there := j.held
	if there == 0 {
		there = max(-j.owed, 0)
	}
	if there == 0 && m.r.IntN(4) > 0 {
		return false
	}
	part := m.some(there)
	g := m.twice("/v1/jobs/"+j.id+"/refunds", "", object{"amount": sent(part), "from": "bank", "reason": "Too much."})
	if !m.want(g, part <= there, fmt.Sprintf("refunding %d of %d", part, there)) {
		return true
	}
	if j.held == 0 {
		j.owed += part
		return true
	}
	j.held -= part
	for _, p := range slices.Backward(j.deposits) { // the latest first
		take := min(part, p.amount-p.credited)
		p.credited += take
		part -= take
	}
	return true
}

func (m *moneyModel) invoice() bool {
	j := m.jobs[m.r.IntN(len(m.jobs))]
	if m.r.IntN(4) > 0 {
		return false
	}
	g := m.twice("/v1/jobs/"+j.id+"/invoice", "", object{})
	if !m.want(g, !j.invoiced, "invoicing") {
		return true
	}
	var i openapi.Invoice
	g.into(m.s.t, http.StatusCreated, &i)
	j.invoiced, j.invoice, j.owed, j.held, j.deposits = true, i.Id, j.total-j.held, 0, nil
	if minorOf(i.Due) != j.owed {
		m.s.t.Errorf("the invoice says %s is due, the model %d", i.Due.Amount, j.owed)
	}
	if len(m.jobs) < 12 {
		m.begin()
	}
	return true
}

// credit takes twelve pounds off an invoice, a few times.
func (m *moneyModel) credit() bool {
	j := m.jobs[m.r.IntN(len(m.jobs))]
	if !j.invoiced || j.credited >= 60_00 {
		return false
	}
	g := m.twice("/v1/invoices/"+j.invoice+"/credit-notes", "", object{"reason": "A scratch.", "back": []any{
		object{"treatment": "standard", "vat_percent": "20", "net": sent(10_00), "vat": sent(2_00)}}})
	if m.want(g, true, "crediting") {
		j.owed, j.credited = j.owed-12_00, j.credited+12_00
	}
	return true
}

// hold holds the workshop against the model.
func (m *moneyModel) hold() {
	s, t := m.s, m.s.t
	t.Helper()
	held, left := map[string]int64{}, int64(0)
	all, owed := int64(0), int64(0)
	for _, j := range m.jobs {
		if j.held != 0 {
			held[j.id] = j.held
		}
		all, owed = all+j.held, owed+j.owed
		if j.held < 0 {
			t.Errorf("the model holds %d of a job", j.held)
		}
	}
	for _, r := range m.receipts {
		left += r.left
	}
	var d openapi.DepositsNotEarned
	s.do(auth.Books, http.MethodGet, "/v1/books/deposits", "", nil).into(t, http.StatusOK, &d)
	for _, one := range d.Deposits {
		if held[one.Job] != minorOf(one.Amount) {
			t.Errorf("of job %d %s is held, want %d", one.Number, one.Amount.Amount, held[one.Job])
		}
		delete(held, one.Job)
	}
	if len(held) > 0 || minorOf(d.Total) != all || minorOf(d.NotPlaced) != left {
		t.Errorf("held are %+v, want besides %v; %d in all, %d not placed", d, held, all, left)
	}
	var b openapi.Books
	s.do(auth.Books, http.MethodGet, "/v1/books", "", nil).into(t, http.StatusOK, &b)
	sum := int64(0)
	for _, a := range b.Accounts {
		sum += minorOf(a.Balance)
		if a.Account == "debtors" && minorOf(a.Balance) != owed {
			t.Errorf("%s is owed on invoices, want %d", a.Balance.Amount, owed)
		}
		if a.Account == "VAT on deposits" && all == 0 && minorOf(a.Balance) != 0 {
			t.Errorf("no deposit is held, and the VAT on them is %s", a.Balance.Amount)
		}
	}
	if sum != 0 {
		t.Errorf("all accounts come to %d", sum)
	}
}

// TestMoneyAtOnce: several people place, take back and give back the same
// receipts on the same jobs at once. Each is done or refused; and then what jobs
// hold is what receipts say is placed on them, and all accounts come to nothing.
func TestMoneyAtOnce(t *testing.T) {
	w := newWorld(t)
	m := &moneyModel{s: seller{w, t, w.Ours}, r: rand.New(rand.NewPCG(3, 5))}
	for range 2 {
		m.begin()
	}
	for range 3 {
		m.receive()
	}
	const people, things = 6, 8
	done := make(chan map[int]int, people)
	for k := range people {
		go func(r *rand.Rand) {
			seen := map[int]int{}
			defer func() { done <- seen }()
			for range things {
				it, j := m.receipts[r.IntN(len(m.receipts))], m.jobs[r.IntN(len(m.jobs))]
				path, body := it.path()+"/placements", any(object{"parts": []any{object{"job": j.id, "amount": sent(1 + r.Int64N(400_00))}}})
				switch r.IntN(4) {
				case 0:
					path, body = it.path()+"/placements/1/take-back", object{"reason": "Another's."}
				case 1:
					path, body = it.path()+"/refunds", object{"amount": sent(1 + r.Int64N(40_00)), "from": "bank"}
				}
				version := w.exchange(t, call{method: http.MethodGet, path: it.path(), of: w.Ours, role: auth.Books}).header.Get("Etag")
				g := w.exchange(t, call{method: http.MethodPost, path: path, of: w.Ours, role: auth.Books, body: body, header: http.Header{"If-Match": {version}}})
				seen[g.status]++
			}
		}(rand.New(rand.NewPCG(uint64(k), 9)))
	}
	statuses := map[int]int{}
	for range people {
		for status, n := range <-done {
			statuses[status] += n
		}
	}
	for status := range statuses {
		if !slices.Contains([]int{http.StatusOK, http.StatusConflict, http.StatusNotFound, http.StatusPreconditionFailed}, status) {
			t.Errorf("answers are %v", statuses)
		}
	}
	if statuses[http.StatusOK] == 0 || statuses[http.StatusPreconditionFailed]+statuses[http.StatusConflict] == 0 {
		t.Errorf("nobody met anybody: %v", statuses)
	}
	for _, it := range m.receipts {
		var r openapi.Receipt
		m.s.do(auth.Books, http.MethodGet, it.path(), "", nil).into(t, http.StatusOK, &r)
		it.left = minorOf(r.Left)
		left := it.amount
		for _, p := range r.Placements {
			if p.Back.On != "" {
				continue
			}
			left -= minorOf(p.Amount)
			for _, j := range m.jobs {
				if j.id == p.Job {
					j.held += minorOf(p.Amount)
				}
			}
		}
		for _, f := range r.Refunds {
			left -= minorOf(f.Amount)
		}
		if left != it.left || left < 0 {
			t.Errorf("of receipt %d %d is left, and it says %d", r.Number, left, it.left)
		}
	}
	m.hold()
	err := w.Store.As(w.Ours.Principal[auth.Owner]).Read(t.Context(), func(tx store.ReadTx) error { _, err := tx.VerifyJournal(); return err })
	if err != nil {
		t.Error(err)
	}
}
