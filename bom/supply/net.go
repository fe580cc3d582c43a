package supply

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
)

// Plan is what is still to get hold of.
type Plan struct {
	// Buy are parts and outside work to order, Make kits and whatever else has
	// a recipe, to make. By code, then day.
	Buy, Make []Planned
	// Late are the wants that something due will meet, after their day.
	Late []Late
	// Spare is due and wanted by nobody; SpareStock is in stock, kept for
	// nobody, and wanted by nobody.
	Spare      []Due
	SpareStock []Holding
	// Met says of each want, in the order given, where it comes from.
	Met []Met
	// Undated are the wants without a day, by place; they are in nothing else.
	Undated []int
}

// Planned is one lot to order or make.
type Planned struct {
	Kind Kind
	Code string
	// Job it is for alone; of what is made to measure.
	Job string
	// Day it has to be there, and the last day to order it or to begin.
	Day, StartBy string
	// TooLate: StartBy has passed.
	TooLate bool
	// Quantity of the lot, of which Wanted is wanted.
	Quantity, Wanted decimal.Decimal
	For              []For
}

// For is what of a lot is for one want.
type For struct {
	// Want by its place in the wants given; -1: for what a lot of something
	// made holds beyond its wants.
	Want     int
	Quantity decimal.Decimal
}

// Late is a want that is met after its day.
type Late struct {
	Want     int // -1 as in For
	Code     string
	Quantity decimal.Decimal
	Wanted   string // the day
	There    string // the day
	Order    string
}

// Met is where one want comes from. Of a component, what the kits in stock
// made needless is in none of the three.
type Met struct{ Stock, Due, Planned decimal.Decimal }

// Net holds wants against what is in stock and what is due, level by level:
// an item only once all that is made of it has been. What is kept for a job,
// or was ordered for it alone, goes to that job; the rest goes to wants in the
// order of their days, of one day in the order given. What is due after a day
// meets wants of that day only where no later want needs it: nothing is
// ordered twice because a supplier is late, and the want is told as late.
//
// What remains is planned in lots for the days it is wanted on, and what a lot
// holds beyond its wants goes to later ones. Something made takes its
// components so many working days earlier as it takes to make.
//
// Errors: ErrQuantity, ErrDay, ErrCircle, ErrWant, ErrItem.
func (p *Position) Net(wants []Want) (Plan, error) {
	n, err := p.begin(wants)
	if err != nil {
		return Plan{}, err
	}
	order, err := n.levels()
	if err != nil {
		return Plan{}, err
	}
	for _, at := range order {
		if err := n.item(at); err != nil {
			return Plan{}, err
		}
	}
	n.finish()
	return n.plan, nil
}

type itemKey struct {
	outside bool
	code    string
}

func keyOf(k Kind, code string) itemKey { return itemKey{k == Outside, code} }

// netting is the working state of one Net.
type netting struct {
	p       *Position
	days    *days
	wants   []Want
	at      map[itemKey]int
	items   []netItem
	nodes   []node
	ofWant  []int32 // its node, -1 for none
	hasOwn  []bool  // by want: its components are wants themselves
	plan    Plan
	planned []lot
}

// netItem is an item with all that is wanted and had of it.
type netItem struct {
	Item
	least, multiple millionths
	recipe          []component
	known           bool // somebody said how it is had
	nodes           []int32
	free            millionths
	kept            map[string]millionths
	due             []due
	into            []int // items it is a component of
}

type component struct {
	item int
	each millionths
}

type due struct {
	Due
	left millionths
}

// node is one requirement of an item.
type node struct {
	item   int
	day    string
	job    string
	parent int32 // -1 for none
	want   int32 // -1: beyond what is wanted
	own    bool  // it is that want, and no component a recipe of it asks for
	asked  millionths
	short  millionths // still to be had, worked out when its item is
}

// lot is one planned lot with what is left of it.
type lot struct {
	Planned
	left, wanted millionths
}

func (p *Position) begin(wants []Want) (*netting, error) {
	n := &netting{p: p, days: daysOf(p.Calendar), wants: wants, at: make(map[itemKey]int, len(p.Items)),
		ofWant: make([]int32, len(wants)), hasOwn: make([]bool, len(wants)), plan: Plan{Met: make([]Met, len(wants))}}
	if !calendar.Valid(p.Today) {
		return nil, fmt.Errorf("today, %q: %w", p.Today, ErrDay)
	}
	for i := range p.Items {
		if err := n.addItem(&p.Items[i]); err != nil {
			return nil, err
		}
	}
	for i := range p.Items {
		if err := n.addRecipe(&p.Items[i]); err != nil {
			return nil, err
		}
	}
	if err := n.addStock(); err != nil {
		return nil, err
	}
	return n, n.addWants()
}

// place of an item; one nobody described is bought today, in ones.
func (n *netting) place(kind Kind, code string) int {
	k := keyOf(kind, code)
	at, ok := n.at[k]
	if !ok {
		at = len(n.items)
		n.at[k] = at
		n.items = append(n.items, netItem{Item: Item{Code: code, Kind: kind, Unsourced: true}})
	}
	return at
}

func (n *netting) addItem(i *Item) error {
	at := n.place(i.Kind, i.Code)
	least, ok := millionthsOf(i.Least)
	multiple, ok2 := millionthsOf(i.Multiple)
	if i.Kind == "" || i.LeadDays < 0 || n.items[at].known || !ok || !ok2 {
		return fmt.Errorf("%s %q: %w", i.Kind, i.Code, ErrItem)
	}
	n.items[at] = netItem{Item: *i, least: least, multiple: multiple, known: true}
	return nil
}

func (n *netting) addRecipe(i *Item) error {
	at := n.at[keyOf(i.Kind, i.Code)]
	for _, c := range i.Recipe {
		each, ok := millionthsOf(c.Each)
		if !ok {
			return fmt.Errorf("%s of %s in %s: %w", c.Each, c.Code, i.Code, ErrQuantity)
		}
		of := n.place(Part, c.Code)
		n.items[at].recipe = append(n.items[at].recipe, component{of, each})
		n.items[of].into = append(n.items[of].into, at)
	}
	return nil
}

func (n *netting) addStock() error {
	for _, h := range n.p.Held {
		q, ok := millionthsOf(h.Quantity)
		if !ok {
			return fmt.Errorf("%s of %s in stock: %w", h.Quantity, h.Code, ErrQuantity)
		}
		i := &n.items[n.place(h.Kind, h.Code)]
		if h.Job == "" {
			i.free += q
			continue
		}
		if i.kept == nil {
			i.kept = map[string]millionths{}
		}
		i.kept[h.Job] += q
	}
	for _, d := range n.p.Due {
		q, ok := millionthsOf(d.Quantity)
		if !ok {
			return fmt.Errorf("%s of %s due: %w", d.Quantity, d.Code, ErrQuantity)
		}
		if !calendar.Valid(d.Day) {
			return fmt.Errorf("%s due on %q: %w", d.Code, d.Day, ErrDay)
		}
		d.Day = max(d.Day, n.p.Today) // overdue: it comes today at the earliest
		i := &n.items[n.place(d.Kind, d.Code)]
		i.due = append(i.due, due{d, q})
	}
	for i := range n.items {
		slices.SortStableFunc(n.items[i].due, func(a, b due) int { return strings.Compare(a.Day, b.Day) })
	}
	return nil
}

// twoOfIt: two wants of one kit, so that nobody can say which of them something
// goes into.
const twoOfIt = -1

// addWants makes a node of every want that has a day.
func (n *netting) addWants() error {
	kits := map[string]int{}
	for i := range n.wants {
		w := &n.wants[i]
		if w.Kind != Kit {
			continue
		}
		name := wayName(w.Job, w.Stage, w.Via, w.Code)
		if _, twice := kits[name]; twice {
			i = twoOfIt
		}
		kits[name] = i
	}
	for i := range n.wants {
		n.ofWant[i] = -1
	}
	n.nodes = make([]node, 0, len(n.wants))
	for i := range n.wants {
		if err := n.addWant(i, kits); err != nil {
			return err
		}
	}
	// Parents may stand behind their components.
	for i := range n.nodes {
		if parent := n.nodes[i].parent; parent >= 0 {
			if n.nodes[i].parent = n.ofWant[parent]; n.nodes[i].parent < 0 {
				return fmt.Errorf("%s has a day and what it goes into has none: %w", n.items[n.nodes[i].item].Code, ErrWant)
			}
		}
	}
	return nil
}

func (n *netting) addWant(i int, kits map[string]int) error {
	w := &n.wants[i]
	q, ok := millionthsOf(w.Quantity)
	if !ok {
		return fmt.Errorf("%s of %s wanted: %w", w.Quantity, w.Code, ErrQuantity)
	}
	if w.Day == "" {
		n.plan.Undated = append(n.plan.Undated, i)
		return nil
	}
	if !calendar.Valid(w.Day) {
		return fmt.Errorf("%s wanted on %q: %w", w.Code, w.Day, ErrDay)
	}
	at := n.place(w.Kind, w.Code)
	parent := int32(-1)
	if last := len(w.Via) - 1; last >= 0 {
		in, found := kits[wayName(w.Job, w.Stage, w.Via[:last], w.Via[last])]
		if !found || in == twoOfIt || n.wants[in].Quantity.IsZero() {
			return fmt.Errorf("%s by way of %s at %s: %w", w.Code, w.Via[last], w.Stage, ErrWant)
		}
		parent, n.hasOwn[in] = int32(in), true
		n.items[at].into = append(n.items[at].into, n.place(Kit, n.wants[in].Code))
	}
	n.ofWant[i] = int32(len(n.nodes))
	n.items[at].nodes = append(n.items[at].nodes, n.ofWant[i])
	n.nodes = append(n.nodes, node{item: at, day: w.Day, job: w.Job, parent: parent, want: int32(i), own: true, asked: q})
	return nil
}

func wayName(job, stage string, via []string, code string) string {
	return job + "\x00" + stage + "\x00" + strings.Join(via, "\x00") + "\x00\x00" + code
}

// levels orders the items so that each stands behind all it is a component of.
func (n *netting) levels() ([]int, error) {
	const unseen, within, done = 0, 1, 2
	state := make([]uint8, len(n.items))
	order := make([]int, 0, len(n.items))
	var visit func(at int) error
	visit = func(at int) error {
		switch state[at] {
		case done:
			return nil
		case within:
			return fmt.Errorf("%s: %w", n.items[at].Code, ErrCircle)
		}
		state[at] = within
		into := n.items[at].into
		slices.Sort(into)
		for _, above := range slices.Compact(into) {
			if err := visit(above); err != nil {
				return err
			}
		}
		state[at] = done
		order = append(order, at)
		return nil
	}
	for at := range n.items {
		if err := visit(at); err != nil {
			return nil, err
		}
	}
	return order, nil
}

// item nets one item.
func (n *netting) item(at int) error {
	i := &n.items[at]
	for _, k := range i.nodes {
		v := &n.nodes[k]
		if v.parent >= 0 {
			above := &n.nodes[v.parent]
			v.asked = v.asked.share(above.short, above.whole(n))
		}
		v.short = v.asked
	}
	slices.SortStableFunc(i.nodes, func(a, b int32) int {
		return cmp.Or(strings.Compare(n.nodes[a].day, n.nodes[b].day), strings.Compare(n.nodes[a].forJob(i), n.nodes[b].forJob(i)))
	})
	for _, k := range i.nodes {
		v := &n.nodes[k]
		stock, owed := i.fromStock(v), i.fromDue(v)
		if v.own {
			m := &n.plan.Met[v.want]
			m.Stock, m.Due = add(m.Stock, stock), add(m.Due, owed)
		}
	}
	for _, k := range i.nodes {
		n.late(i, &n.nodes[k])
	}
	return n.lots(at)
}

// add is a sum that makes no decimal of nothing.
func add(d decimal.Decimal, m millionths) decimal.Decimal {
	if m == 0 {
		return d
	}
	return d.Add(m.decimal())
}

// whole is what was asked of a want before anything of what it goes into was
// found in stock: what its components are counted for.
func (v *node) whole(n *netting) millionths {
	q, _ := millionthsOf(n.wants[v.want].Quantity)
	return q
}

// fromStock takes what it can for a node, what is kept for its job first.
func (i *netItem) fromStock(v *node) millionths {
	var took millionths
	if kept := min(i.kept[v.job], v.short); kept > 0 && v.job != "" {
		i.kept[v.job] -= kept
		took, v.short = kept, v.short-kept
	}
	if !i.Measured {
		free := min(i.free, v.short)
		i.free -= free
		took, v.short = took+free, v.short-free
	}
	return took
}

// fromDue takes what is there by the node's day; what was ordered for its job
// first.
func (i *netItem) fromDue(v *node) millionths {
	var took millionths
	for _, own := range []bool{true, false} {
		for k := range i.due {
			d := &i.due[k]
			if v.short == 0 || d.Day > v.day {
				break
			}
			if !i.meets(d, v, own) {
				continue
			}
			q := min(d.left, v.short)
			d.left -= q
			took, v.short = took+q, v.short-q
		}
	}
	return took
}

func (i *netItem) meets(d *due, v *node, own bool) bool {
	if d.left == 0 || i.Measured && d.Job == "" {
		return false
	}
	if own {
		return d.Job != "" && d.Job == v.job
	}
	return d.Job == ""
}

// late takes what nobody needs of what is due later.
func (n *netting) late(i *netItem, v *node) {
	for _, own := range []bool{true, false} {
		for k := range i.due {
			d := &i.due[k]
			if v.short == 0 {
				return
			}
			if !i.meets(d, v, own) {
				continue
			}
			q := min(d.left, v.short)
			d.left -= q
			v.short -= q
			if v.own {
				n.plan.Met[v.want].Due = add(n.plan.Met[v.want].Due, q)
			}
			n.plan.Late = append(n.plan.Late, Late{int(v.want), i.Code, q.decimal(), v.day, d.Day, d.Order})
		}
	}
}

// forJob is the job whose own it has to be.
func (v *node) forJob(i *netItem) string {
	if i.Measured {
		return v.job
	}
	return ""
}

// lots plans what is still short, day by day.
func (n *netting) lots(at int) error {
	i := &n.items[at]
	first := len(n.planned)
	nodes := i.nodes
	for len(nodes) > 0 {
		end := 1
		for v := &n.nodes[nodes[0]]; end < len(nodes) && n.nodes[nodes[end]].day == v.day && n.nodes[nodes[end]].forJob(i) == v.forJob(i); {
			end++
		}
		if err := n.day(at, first, nodes[:end]); err != nil {
			return err
		}
		nodes = nodes[end:]
	}
	return nil
}

// day plans what an item is short of on one day: from what lots before hold
// beyond their wants, then from a new lot.
func (n *netting) day(at, first int, nodes []int32) error {
	var short, over millionths
	for _, k := range nodes {
		short += n.nodes[k].short
	}
	i := &n.items[at]
	job := n.nodes[nodes[0]].forJob(i)
	for k := first; k < len(n.planned); k++ {
		if n.planned[k].Job == job {
			over += n.planned[k].left
		}
	}
	if short == 0 {
		return nil
	}
	lead, day := i.LeadDays, n.nodes[nodes[0]].day
	start, err := n.days.back(day, lead)
	if err != nil {
		return err
	}
	var beyond millionths
	if short > over {
		q := (short - over).lot(i.least, i.multiple)
		beyond = q - (short - over)
		n.planned = append(n.planned, lot{left: q, Planned: Planned{Kind: i.Kind, Code: i.Code, Job: job, Day: day, StartBy: start,
			TooLate: start < n.p.Today, Quantity: q.decimal()}})
	}
	old := over
	for _, k := range nodes {
		v := &n.nodes[k] // good until recipe adds nodes
		n.take(first, job, v)
		before := min(old, v.short) // from a lot whose components are planned already
		old -= before
		v.short -= before
		if v.own && n.hasOwn[v.want] {
			continue // its components are wants themselves
		}
		if err := n.recipe(at, v.want, v.job, start, v.short); err != nil {
			return err
		}
	}
	if beyond > 0 {
		return n.recipe(at, -1, "", start, beyond)
	}
	return nil
}

// take gives a node its share of the lots.
func (n *netting) take(first int, job string, v *node) {
	left := v.short
	for k := first; k < len(n.planned) && left > 0; k++ {
		l := &n.planned[k]
		q := min(l.left, left)
		if q == 0 || l.Job != job {
			continue
		}
		l.left -= q
		left -= q
		l.wanted += q
		l.For = append(l.For, For{int(v.want), q.decimal()})
	}
	if v.own {
		n.plan.Met[v.want].Planned = add(n.plan.Met[v.want].Planned, v.short)
	}
}

// recipe asks for the components of so many of something made.
func (n *netting) recipe(at int, want int32, job, day string, quantity millionths) error {
	if quantity == 0 {
		return nil
	}
	for _, c := range n.items[at].recipe {
		q, ok := c.each.times(quantity)
		if !ok {
			return fmt.Errorf("%s of %s: %w", quantity.decimal(), n.items[at].Code, ErrQuantity)
		}
		n.items[c.item].nodes = append(n.items[c.item].nodes, int32(len(n.nodes)))
		n.nodes = append(n.nodes, node{item: c.item, day: day, job: job, parent: -1, want: want, asked: q})
	}
	return nil
}

// finish writes the plan.
func (n *netting) finish() {
	for k := range n.planned {
		l := &n.planned[k]
		l.Wanted = l.wanted.decimal()
		i := &n.items[n.at[keyOf(l.Kind, l.Code)]]
		if i.Kind == Kit || len(i.recipe) > 0 {
			n.plan.Make = append(n.plan.Make, l.Planned)
		} else {
			n.plan.Buy = append(n.plan.Buy, l.Planned)
		}
	}
	byCode := func(a, b Planned) int {
		return cmp.Or(strings.Compare(a.Code, b.Code), strings.Compare(string(a.Kind), string(b.Kind)), strings.Compare(a.Day, b.Day))
	}
	slices.SortStableFunc(n.plan.Buy, byCode)
	slices.SortStableFunc(n.plan.Make, byCode)
	for k := range n.items {
		i := &n.items[k]
		if i.free > 0 {
			n.plan.SpareStock = append(n.plan.SpareStock, Holding{Kind: i.Kind, Code: i.Code, Quantity: i.free.decimal()})
		}
		for _, d := range i.due {
			if d.left > 0 {
				d.Quantity = d.left.decimal()
				n.plan.Spare = append(n.plan.Spare, d.Due)
			}
		}
	}
}
