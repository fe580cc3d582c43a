package apitest

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
	"wainscot/openapi"
)

// slotFrom gives a job's stages a day each, one after another, from a day on.
func (s seller) slotFrom(j openapi.Job, from string) {
	s.t.Helper()
	var slot schedule.Slot
	day := from
	for _, stage := range j.Stages {
		slot.Stages = append(slot.Stages, schedule.StageDays{Stage: stage.Code, From: day, Until: day})
		next, err := calendar.Calendar{}.Forward(day, 1)
		if err != nil {
			s.t.Fatal(err)
		}
		day = next
	}
	last := slot.Stages[len(slot.Stages)-1].Until
	slot.Stays = []schedule.Stay{{Place: "bay", From: from, Until: last}}
	err := s.Store.As(s.shop.Principal[auth.Owner]).Write(s.t.Context(), func(tx store.WriteTx) error {
		_, err := tx.PutSlot(uuid.MustParse(j.Id), 0, store.SlotContent{State: schedule.Firm, Days: slot})
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
}

// ask is an exchange that must come to a status, read into a contract type.
func askAs[T any](s seller, role auth.Role, method, path, version string, body any, status int) T {
	s.t.Helper()
	var out T
	g := s.do(role, method, path, version, body)
	if g.status != status {
		s.t.Fatalf("%s %s: %d, want %d: %s", method, path, g.status, status, g.body)
	}
	if err := json.Unmarshal(g.body, &out); err != nil {
		s.t.Fatal(err)
	}
	return out
}

func (s seller) wanted(query string) openapi.Wanted {
	s.t.Helper()
	return askAs[openapi.Wanted](s, auth.Workshop, http.MethodGet, "/v1/wanted"+query, "", nil, http.StatusOK)
}

func (s seller) proposals(role auth.Role, query string) openapi.Proposals {
	s.t.Helper()
	return askAs[openapi.Proposals](s, role, http.MethodGet, "/v1/proposals"+query, "", nil, http.StatusOK)
}

// TestPartsOfAJob goes with a van from the yes to its parts on the shelf: what
// is wanted, proposed, ordered, late, delivered otherwise than ordered, issued.
func TestPartsOfAJob(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)

	// Without a slot nothing has a day and nothing is proposed.
	if list := s.wanted(""); len(list.Lines) != 0 || len(list.WithoutSlot) != 1 || list.WithoutSlot[0] != j.Id {
		t.Fatalf("without a slot: %d lines, %v", len(list.Lines), list.WithoutSlot)
	}
	if p := s.proposals(auth.Owner, "?order_by=2027-12-31"); len(p.Orders) != 0 {
		t.Fatalf("without a slot %d orders are proposed", len(p.Orders))
	}

	s.slotFrom(j, "2027-01-11")
	list := s.wanted("?until=2027-03-31&job=" + j.Id)
	if len(list.Lines) == 0 || len(list.WithoutSlot) != 0 || list.More {
		t.Fatalf("%d lines wanted", len(list.Lines))
	}
	for i, l := range list.Lines {
		if i > 0 && l.Day < list.Lines[i-1].Day {
			t.Errorf("%s stands behind %s", l.Day, list.Lines[i-1].Day)
		}
		if l.JobNumber != j.Number || l.FromStock != "0" {
			t.Errorf("%+v", l)
		}
	}
	if soon := s.wanted("?until=2027-01-11"); len(soon.Lines) >= len(list.Lines) {
		t.Errorf("until its first day %d are wanted, in all %d", len(soon.Lines), len(list.Lines))
	}

	// Who buys sees prices, who builds does not.
	dear, bare := s.proposals(auth.Owner, "?order_by=2027-02-28"), s.proposals(auth.Workshop, "?order_by=2027-02-28")
	if len(dear.Orders) == 0 || len(dear.Orders) != len(bare.Orders) {
		t.Fatalf("%d proposals for the owner, %d for the workshop", len(dear.Orders), len(bare.Orders))
	}
	for i := range dear.Orders {
		if dear.Orders[i].Total.Amount == "" || bare.Orders[i].Total.Amount != "" || dear.Orders[i].Lines[0].Amount.Amount == "" {
			t.Errorf("%s: %+v, %+v", dear.Orders[i].SupplierCode, dear.Orders[i].Total, bare.Orders[i].Total)
		}
		if i > 0 && dear.Orders[i].OrderBy < dear.Orders[i-1].OrderBy {
			t.Errorf("%s stands behind %s", dear.Orders[i].OrderBy, dear.Orders[i-1].OrderBy)
		}
	}
	s.order(j, dear)
	s.issueParts(j)
	s.unordered(j)
	w.verify(t, w.Ours)
}

// order takes the first proposal with more than one line through an order.
func (s seller) order(j openapi.Job, proposals openapi.Proposals) {
	t := s.t
	t.Helper()
	at := 0
	for len(proposals.Orders[at].Lines) < 2 || proposals.Orders[at].Lines[0].Kind != "part" {
		at++
	}
	proposal := proposals.Orders[at]
	draft := askAs[openapi.Order](s, auth.Workshop, http.MethodPost, "/v1/orders", "",
		object{"supplier_code": proposal.SupplierCode, "from_proposal": true, "order_by": "2027-02-28"}, http.StatusCreated)
	if draft.State != "draft" || len(draft.Lines) != len(proposal.Lines) || draft.Lines[0].Code != proposal.Lines[0].Code {
		t.Fatalf("the draft is %+v", draft)
	}
	again := s.proposals(auth.Owner, "?order_by=2027-02-28")
	for _, o := range again.Orders {
		if o.SupplierCode == proposal.SupplierCode {
			t.Errorf("what is drafted is proposed again: %+v", o.Lines)
		}
	}
	path := "/v1/orders/" + draft.Id
	placed := askAs[openapi.Order](s, auth.Owner, http.MethodPost, path+"/place", `"1"`, object{}, http.StatusOK)
	if placed.State != "placed" || placed.PlacedOn != "2026-11-25" || placed.Edition != "2026-10" || placed.Goods != proposal.Goods {
		t.Errorf("placed %+v, proposed at %+v", placed, proposal.Goods)
	}
	if g := s.do(auth.Owner, http.MethodPost, path+"/place", `"2"`, object{}); g.status != http.StatusConflict {
		t.Errorf("placed twice: %d %s", g.status, g.body)
	}
	shown := askAs[openapi.Order](s, auth.Workshop, http.MethodGet, path, "", nil, http.StatusOK)
	if shown.Goods.Amount != "" || shown.Lines[0].UnitPrice.Amount != "" {
		t.Errorf("the workshop is shown %+v", shown.Lines[0])
	}
	if hits := s.hits(path); len(hits) != 0 {
		t.Errorf("in time, and it hits %+v", hits)
	}

	// It comes late, and hits the job; the rest comes otherwise than ordered.
	late := askAs[openapi.Order](s, auth.Workshop, http.MethodPost, path+"/expected", `"2"`, object{"line": 1, "due_on": "2027-03-01"}, http.StatusOK)
	hits := s.hits(path)
	if !late.Lines[0].Late || len(hits) == 0 || hits[0].JobNumber != j.Number || hits[0].There != "2027-03-01" || hits[0].Code != late.Lines[0].Code {
		t.Fatalf("late, and it hits %+v", hits)
	}
	if list := s.wanted("?until=2027-03-31"); !anyLate(list, late.Lines[0].Code) {
		t.Error("what is wanted does not say that it is late")
	}
	outlook := askAs[openapi.OutlookList](s, auth.Workshop, http.MethodGet, "/v1/outlook?days=60", "", nil, http.StatusOK)
	if !slices.ContainsFunc(outlook.Vans, func(v openapi.Outlook) bool {
		return v.Number == j.Number && slices.ContainsFunc(v.Stops, func(o openapi.OutlookStop) bool {
			return o.What == openapi.OutlookStopWhatPart && o.Code == late.Lines[0].Code && o.By == "2027-03-01"
		})
	}) {
		t.Errorf("the foreman's list says nothing of %s: %+v", late.Lines[0].Code, outlook.Vans)
	}
	s.deliver(path, late)
	s.paper(path, late)
}

func anyLate(list openapi.Wanted, code string) bool {
	for _, l := range list.Lines {
		if l.Code == code && len(l.Late) > 0 {
			return true
		}
	}
	return false
}

func (s seller) hits(path string) []openapi.LateWant {
	s.t.Helper()
	return askAs[openapi.Hits](s, auth.Books, http.MethodGet, path+"/hits", "", nil, http.StatusOK).Hits
}

// deliver takes in half of the first line at another price, then all there is.
func (s seller) deliver(path string, o openapi.Order) {
	t := s.t
	t.Helper()
	first := decimal.RequireFromString(o.Lines[0].Quantity)
	half := first.Div(decimal.New(2, 0)).Ceil()
	unit := object{"amount": "9999.99", "currency": "GBP"}
	part := askAs[openapi.Order](s, auth.Owner, http.MethodPost, path+"/deliveries", `"3"`, object{
		"note": "L-17", "lines": []any{object{"line": 1, "quantity": half.String(), "unit_price": unit}},
	}, http.StatusOK)
	stock := askAs[openapi.Stock](s, auth.Workshop, http.MethodGet, "/v1/stock/"+o.Lines[0].Code, "", nil, http.StatusOK)
	if stock.OnHand != half.String() {
		t.Errorf("%s came, and %s are on hand", half, stock.OnHand)
	}
	seen := part.Deliveries[0].Lines[0].Differences
	if len(seen) == 0 || seen[len(seen)-1].What != "price" || seen[len(seen)-1].Came != "9999.99" {
		t.Errorf("differences %+v", seen)
	}
	shown := askAs[openapi.Order](s, auth.Workshop, http.MethodGet, path, "", nil, http.StatusOK)
	seen = shown.Deliveries[0].Lines[0].Differences
	if len(seen) == 0 || seen[len(seen)-1].What != "price" || seen[len(seen)-1].Came != "" {
		t.Errorf("the workshop is shown differences %+v", seen)
	}
	if g := s.do(auth.Owner, http.MethodPost, path+"/cancel", `"4"`, nil); part.State == "part delivered" && g.status != http.StatusConflict {
		t.Errorf("cancelled after a delivery: %d", g.status)
	}
	var rest []any
	for _, l := range part.Lines {
		if l.Left != "0" {
			rest = append(rest, object{"line": l.Line, "quantity": l.Left})
		}
	}
	done := askAs[openapi.Order](s, auth.Workshop, http.MethodPost, path+"/deliveries", `"4"`, object{"lines": rest}, http.StatusOK)
	if done.State != "closed" || len(done.Deliveries) != 2 {
		t.Errorf("all came, and the order is %s", done.State)
	}
	moves := askAs[openapi.StockMovements](s, auth.Books, http.MethodGet, "/v1/stock/"+o.Lines[0].Code+"/movements?limit=1", "", nil, http.StatusOK)
	if len(moves.Movements) != 1 || moves.Movements[0].Kind != "delivered" || moves.Movements[0].Order != o.Id {
		t.Errorf("movements %+v", moves)
	}
}

// paper holds what a spreadsheet is given against the order.
func (s seller) paper(path string, o openapi.Order) {
	t := s.t
	t.Helper()
	for role, columns := range map[auth.Role]int{auth.Owner: 11, auth.Workshop: 9} {
		g := s.do(role, http.MethodGet, path+"/order.csv", "", nil)
		rows, err := csv.NewReader(bytes.NewReader(g.body)).ReadAll()
		if err != nil || len(rows) != len(o.Lines)+1 || len(rows[0]) != columns || rows[1][1] != o.Lines[0].Code {
			t.Errorf("%s: %v %q", role, err, rows)
		}
	}
	if g := s.do(auth.Workshop, http.MethodGet, path+"/order.pdf", "", nil); g.status != http.StatusOK || !strings.HasPrefix(string(g.body), "%PDF") {
		t.Errorf("the PDF: %d %.200s", g.status, g.body)
	}
	g := s.do(auth.Workshop, http.MethodGet, path+"/order.xlsx", "", nil)
	book, err := excelize.OpenReader(bytes.NewReader(g.body))
	if err != nil {
		t.Fatal(err)
	}
	if title, err := book.GetCellValue("Order", "A1"); err != nil || !strings.HasPrefix(title, "Order 1 to ") {
		t.Errorf("%q %v", title, err)
	}
	g = s.do(auth.Books, http.MethodGet, "/v1/wanted.csv?until=2027-03-31", "", nil)
	if rows, err := csv.NewReader(bytes.NewReader(g.body)).ReadAll(); err != nil || len(rows) != len(s.wanted("?until=2027-03-31").Lines)+1 {
		t.Errorf("%d rows: %v", len(rows), err)
	}
	if g := s.do(auth.Books, http.MethodGet, "/v1/wanted.xlsx?until=2027-03-31", "", nil); g.status != http.StatusOK {
		t.Errorf("%d %s", g.status, g.body)
	}
}

// issueParts puts stock to the job: what was issued is wanted no more.
func (s seller) issueParts(j openapi.Job) {
	t := s.t
	t.Helper()
	var line openapi.WantedLine
	for _, l := range s.wanted("?until=2027-03-31").Lines {
		if l.Kind == "part" && l.ToOrder == l.Quantity && len(l.Via) == 0 {
			line = l
			break
		}
	}
	stock := "/v1/stock/" + line.Code
	move := func(status int, body object) openapi.MovedStock {
		return askAs[openapi.MovedStock](s, auth.Workshop, http.MethodPost, stock+"/movements", "", body, status)
	}
	move(http.StatusUnprocessableEntity, object{"kind": "issued", "quantity": "1", "job": j.Id})
	if got := move(http.StatusCreated, object{"kind": "issued", "quantity": line.Quantity, "job": j.Id, "stage": line.Stage, "knowing": true}); !got.BelowNothing {
		t.Errorf("issued from nothing: %+v", got)
	}
	for _, l := range s.wanted("?until=2027-03-31").Lines {
		if l.Code == line.Code && l.Stage == line.Stage && len(l.Via) == 0 && (l.FromStock != line.Quantity || l.ToOrder != "0") {
			t.Errorf("issued, and wanted as %+v", l)
		}
	}
	s.bothDoors(j, line)
	move(http.StatusCreated, object{"kind": "counted", "quantity": "3"})
	kept := askAs[openapi.Stock](s, auth.Workshop, http.MethodPost, stock+"/kept", "", object{"job": j.Id, "quantity": "2"}, http.StatusCreated)
	if kept.OnHand != "3" || len(kept.Kept) != 1 || kept.Kept[0].Quantity != "2" {
		t.Errorf("kept %+v", kept)
	}
	if g := s.do(auth.Workshop, http.MethodPost, stock+"/movements", "", object{"kind": "scrapped", "quantity": "2"}); g.status != http.StatusUnprocessableEntity {
		t.Errorf("scrapped what is kept: %d %s", g.status, g.body)
	}
	for _, bad := range []object{{"kind": "delivered", "quantity": "1"}, {"kind": "built", "quantity": "1"}, {"kind": "issued", "quantity": "1"}, {"kind": "scrapped", "quantity": "-1"}} {
		if g := s.do(auth.Workshop, http.MethodPost, stock+"/movements", "", bad); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d %s", bad, g.status, g.body)
		}
	}
}

// unordered: the foreman's list tells a part that nobody has ordered from when the
// workshop counts it.
func (s seller) unordered(j openapi.Job) {
	t := s.t
	t.Helper()
	wanted := s.wanted("?until=2027-02-10").Lines
	slices.Reverse(wanted)
	k := slices.IndexFunc(wanted, func(l openapi.WantedLine) bool { return l.Kind == "part" && l.ToOrder == l.Quantity && len(l.Via) == 0 })
	line := wanted[k]
	told := func() (list []openapi.UnorderedParts) {
		for _, v := range askAs[openapi.OutlookList](s, auth.Workshop, http.MethodGet, "/v1/outlook?days=60", "", nil, http.StatusOK).Vans {
			for _, u := range v.ToOrder {
				if slices.ContainsFunc(u.Parts, func(p openapi.UnorderedPart) bool { return p.Part == line.Code }) && v.Job == j.Id {
					list = append(list, u)
				}
			}
		}
		return list
	}
	if list := told(); len(list) != 0 {
		t.Errorf("of what is not counted is told %+v", list)
	}
	askAs[openapi.MovedStock](s, auth.Workshop, http.MethodPost, "/v1/stock/"+line.Code+"/movements", "", object{"kind": "counted", "quantity": "0"}, http.StatusCreated)
	list := told()
	if len(list) == 0 || list[0].WantedOn == "" || list[0].OrderBy == "" || !strings.HasPrefix(list[0].Says, "Nobody has ordered ") {
		t.Errorf("nobody has ordered %s: %+v", line.Code, list)
	}
}

// bothDoors: a part is moved at the stock or recorded on the board, and is out of
// stock and on the board once, whichever it was.
func (s seller) bothDoors(j openapi.Job, line openapi.WantedLine) {
	t := s.t
	stock, path := "/v1/stock/"+line.Code, "/v1/jobs/"+j.Id
	move := func(status int, body object) {
		t.Helper()
		if g := s.do(auth.Workshop, http.MethodPost, stock+"/movements", "", body); g.status != status {
			t.Fatalf("%v: %d %s", body, g.status, g.body)
		}
	}
	stands := func(onHand, onBoard string) openapi.JobBoard {
		t.Helper()
		kept := askAs[openapi.Stock](s, auth.Books, http.MethodGet, stock, "", nil, http.StatusOK)
		board := askAs[openapi.JobBoard](s, auth.Workshop, http.MethodGet, path+"/board", "", nil, http.StatusOK)
		var sum decimal.Decimal
		for _, p := range board.Parts {
			back := slices.ContainsFunc(board.TakenBack, func(b openapi.TakenBackEntry) bool { return b.Entry == p.Number })
			if p.Part == line.Code && !back {
				sum = sum.Add(decimal.RequireFromString(p.Quantity))
			}
		}
		if kept.OnHand != onHand || sum.String() != onBoard {
			t.Fatalf("%s on hand, want %s; %s on the board, want %s", kept.OnHand, onHand, sum, onBoard)
		}
		return board
	}
	use := func(quantity string, more object) got {
		board := askAs[openapi.JobBoard](s, auth.Workshop, http.MethodGet, path+"/board", "", nil, http.StatusOK)
		body := object{"part": line.Code, "stage": line.Stage, "quantity": quantity, "because": "So."}
		maps.Copy(body, more)
		return s.do(auth.Workshop, http.MethodPost, path+"/parts", `"`+strconv.FormatInt(board.Version, 10)+`"`, body)
	}
	had := decimal.RequireFromString(line.Quantity)
	plus := func(n int64) string { return had.Add(decimal.NewFromInt(n)).String() }
	move(http.StatusCreated, object{"kind": "counted", "quantity": "3"})
	stands("3", plus(0))
	move(http.StatusCreated, object{"kind": "issued", "quantity": "1", "job": j.Id}) // to the job, to no stage yet
	stands("2", plus(0))
	if g := use("2", nil); g.status != http.StatusOK { // one of them is there already
		t.Fatalf("%d %s", g.status, g.body)
	}
	stands("1", plus(2))
	if p := use("4", nil).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused); p.Errors[0].Code != "below_nothing" {
		t.Errorf("more than there is: %+v", p.Errors)
	}
	if g := use("4", object{"knowing": true}); g.status != http.StatusOK {
		t.Fatalf("%d %s", g.status, g.body)
	}
	board := stands("-3", plus(6))
	wrong := board.Parts[len(board.Parts)-1].Number
	g := s.do(auth.Workshop, http.MethodPost, path+"/parts/"+itoa(wrong)+"/take-back", `"`+strconv.FormatInt(board.Version, 10)+`"`, object{"because": "Another van."})
	if g.status != http.StatusOK {
		t.Fatalf("%d %s", g.status, g.body)
	}
	stands("1", plus(2))
	move(http.StatusUnprocessableEntity, object{"kind": "put back", "quantity": "1", "job": j.Id})
	move(http.StatusUnprocessableEntity, object{"kind": "issued", "quantity": "1", "job": j.Id, "stage": "no_such_stage"})
	move(http.StatusCreated, object{"kind": "put back", "quantity": "1", "job": j.Id, "stage": line.Stage})
	stands("2", plus(1))
	if g := use("-1", nil); g.status != http.StatusOK {
		t.Fatalf("%d %s", g.status, g.body)
	}
	stands("3", plus(0))
}

// TestStockAndSubstitutes: a kit is built of what is there, a low bin is topped
// up, pages of stock go on where they ended; then what fits takes the place of a
// part.
func TestStockAndSubstitutes(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.shelves()
	s.substitutes()
	w.verify(t, w.Ours)
}

func (s seller) shelves() {
	t := s.t
	put := func(part, quantity string) {
		askAs[openapi.MovedStock](s, auth.Workshop, http.MethodPost, "/v1/stock/"+part+"/movements", "", object{"kind": "counted", "quantity": quantity}, http.StatusCreated)
	}
	for _, part := range []string{"latch_body", "latch_strap", "latch_plate"} {
		put(part, "2")
	}
	put("bolt_m6", "100")
	put("rivet_nut_m6", "100")
	build := object{"kind": "built", "quantity": "2"}
	askAs[openapi.MovedStock](s, auth.Workshop, http.MethodPost, "/v1/stock/latch_set/movements", "", build, http.StatusCreated)
	for part, want := range map[string]string{"latch_set": "2", "latch_body": "0", "bolt_m6": "92"} {
		if got := askAs[openapi.Stock](s, auth.Books, http.MethodGet, "/v1/stock/"+part, "", nil, http.StatusOK); got.OnHand != want {
			t.Errorf("%s of %s are on hand, want %s", got.OnHand, part, want)
		}
	}
	if g := s.do(auth.Workshop, http.MethodPost, "/v1/stock/latch_set/movements", "", build); g.status != http.StatusUnprocessableEntity {
		t.Errorf("built of nothing: %d %s", g.status, g.body)
	}
	if g := s.do(auth.Workshop, http.MethodPost, "/v1/stock/bonding_side/movements", "", build); g.status != http.StatusUnprocessableEntity || !strings.Contains(string(g.body), "no_uses") {
		t.Errorf("built without saying of what: %d %s", g.status, g.body)
	}
	uses := []any{object{"part": "bolt_m6", "quantity": "1.5"}}
	askAs[openapi.MovedStock](s, auth.Workshop, http.MethodPost, "/v1/stock/bonding_side/movements", "", object{"kind": "built", "quantity": "1", "uses": uses}, http.StatusCreated)

	askAs[openapi.Stock](s, auth.Workshop, http.MethodPost, "/v1/stock/bolt_m6/bin", "", object{"least": "90", "top_up": "500"}, http.StatusCreated)
	topped := func() (lines []openapi.ProposedLine) {
		for _, o := range s.proposals(auth.Owner, "").Orders {
			for _, l := range o.Lines {
				if l.TopUp {
					lines = append(lines, l)
				}
			}
		}
		return lines
	}
	if got := topped(); len(got) != 0 {
		t.Errorf("90.5 on hand, and proposed %+v", got)
	}
	askAs[openapi.MovedStock](s, auth.Workshop, http.MethodPost, "/v1/stock/bolt_m6/movements", "", object{"kind": "adjusted", "quantity": "-0.5"}, http.StatusCreated)
	if got := topped(); len(got) != 1 || got[0].Code != "bolt_m6" {
		t.Errorf("90 on hand, and proposed %+v", got)
	}

	var all []string
	for query := "?limit=2"; query != ""; {
		page := askAs[openapi.StockList](s, auth.Books, http.MethodGet, "/v1/stock"+query, "", nil, http.StatusOK)
		for _, k := range page.Stock {
			all = append(all, k.Part)
		}
		if query = ""; page.Next != "" {
			query = "?limit=2&cursor=" + page.Next
		}
	}
	if got := strings.Join(all, " "); got != "bolt_m6 bonding_side latch_body latch_plate latch_set latch_strap rivet_nut_m6" {
		t.Errorf("stock of %s", got)
	}
	if g := s.do(auth.Books, http.MethodGet, "/v1/stock/no_such_part", "", nil); g.status != http.StatusNotFound {
		t.Errorf("no such part: %d", g.status)
	}
}

// substitutes wait for the customer's yes where they chose what is replaced.
func (s seller) substitutes() {
	t := s.t
	j := s.job(nil)
	s.slotFrom(j, "2027-01-11")
	codes := func() map[string]string {
		list := map[string]string{}
		for _, l := range s.wanted("?until=2027-03-31").Lines {
			list[l.Code] = l.Quantity
		}
		return list
	}
	was := codes()
	if was["hob_2"] == "" {
		t.Fatalf("the job wants no hob: %v", was)
	}
	fit := askAs[openapi.Fit](s, auth.Books, http.MethodGet, "/v1/stock/hob_2/fit?with=hob_1&job="+j.Id, "", nil, http.StatusOK)
	if !fit.Shows || fit.Stops || len(fit.Unlike) == 0 || fit.Unlike[len(fit.Unlike)-1].What != "load" {
		t.Errorf("the other hob: %+v", fit)
	}
	if g := s.do(auth.Workshop, http.MethodPost, "/v1/substitutes", "", object{"part": "strut_bracket", "with": "fold_cord", "from": "2026-12-01"}); g.status != http.StatusUnprocessableEntity {
		t.Errorf("a cord for a bracket: %d %s", g.status, g.body)
	}
	for _, bad := range []object{{"part": "hob_2", "with": "hob_1"}, {"part": "hob_2", "with": "hob_1", "job": j.Id, "from": "2026-12-01"}, {"part": "hob_2", "with": "hob_1", "from": "2026-12-01", "until": "2026-11-30"}} {
		if g := s.do(auth.Workshop, http.MethodPost, "/v1/substitutes", "", bad); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d %s", bad, g.status, g.body)
		}
	}
	once := askAs[openapi.Substitute](s, auth.Workshop, http.MethodPost, "/v1/substitutes", "", object{"part": "hob_2", "with": "hob_1", "job": j.Id}, http.StatusCreated)
	if once.State != "waiting" || codes()["hob_1"] != "" {
		t.Errorf("before the customer said yes: %+v", once)
	}
	path := "/v1/substitutes/" + once.Id
	agreed := askAs[openapi.Substitute](s, auth.Workshop, http.MethodPost, path+"/answer", `"1"`, object{"yes": true}, http.StatusOK)
	if now := codes(); agreed.State != "agreed" || agreed.AgreedOn != "2026-11-25" || now["hob_1"] != was["hob_2"] || now["hob_2"] != "" {
		t.Errorf("after: %+v, %v", agreed, now["hob_1"])
	}
	if g := s.do(auth.Workshop, http.MethodPost, path+"/answer", `"2"`, object{"yes": false}); g.status != http.StatusConflict {
		t.Errorf("answered twice: %d", g.status)
	}
	askAs[openapi.Substitute](s, auth.Workshop, http.MethodPost, path+"/end", `"2"`, nil, http.StatusOK)
	if now := codes(); now["hob_1"] != "" || now["hob_2"] != was["hob_2"] {
		t.Errorf("ended: %v", now["hob_2"])
	}
	if page := askAs[openapi.Substitutes](s, auth.Books, http.MethodGet, "/v1/substitutes", "", nil, http.StatusOK); len(page.Substitutes) != 1 || page.Substitutes[0].State != "ended" {
		t.Errorf("%+v", page)
	}
}
