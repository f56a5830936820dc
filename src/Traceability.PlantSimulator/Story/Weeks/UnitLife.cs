using Traceability.Core.Events;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>
/// One casting from its place in the schedule to its 28-day break, in which nothing goes wrong. A mishap is a life in which
/// one step goes otherwise.
/// </summary>
/// <param name="scene">Where it is told.</param>
/// <param name="product">What is cast.</param>
/// <param name="serial">The plant's serial.</param>
/// <param name="pourDay">Midnight of the day of the pour.</param>
/// <param name="slot">Its turn among the pours of that day, from 0; the forms of a day are poured one after the other.</param>
internal class UnitLife(Scene scene, Product product, string serial, DateTimeOffset pourDay, int slot)
{
    private const double FirstPour = 11, BetweenPours = 1.25;

    protected Scene Scene => scene;
    protected Product Product => product;
    protected Readings Readings { get; } = scene.ReadingsOf(serial);

    public string Serial => serial;
    public Concrete Concrete { get; } = new(scene, product.Mix, serial);

    protected DateTimeOffset PourDay => pourDay;
    /// <summary>When the first batch is charged.</summary>
    protected virtual DateTimeOffset PourAt => pourDay.AddHours(FirstPour + BetweenPours * slot);
    protected string Form => product.Forms[slot % product.Forms.Count];
    protected string Cage => "CG-" + serial;
    public string Pour => "P-" + serial;
    protected string Probe => Tools.Probe(slot % Tools.Probes + 1);
    protected virtual string Revision => "B";
    protected Agency? Agency => product.Contract?.Agency;

    /// <summary>The whole life.</summary>
    public void Live()
    {
        Before();
        Release(HoldKind.Pour, PourAt.AddMinutes(-25));
        var sample = Place();
        Cure();
        Strip(sample);
        After(sample);
    }

    /// <summary>Until the pour may be released.</summary>
    public void Before()
    {
        Schedule();
        TieCage();
        SetCage();
        CloseUp();
        PrePour();
        AgencyComes();
    }

    protected void Release(HoldKind hold, DateTimeOffset at, bool refused = false) => scene.Release(serial, hold, at, refused);

    protected void Yard(DateTimeOffset at, IFact fact) => scene.Send(Plant.Yard, Plant.YardForeman, at, fact);

    protected virtual void Inspect(DateTimeOffset at, IFact fact) => scene.Send(Plant.Inspection, Plant.Inspector, at, fact);

    // A week ahead, and never before the office has opened the job.
    protected virtual void Schedule()
    {
        var opened = scene.At(1, DayOfWeek.Monday, 13);
        var at = pourDay.AddDays(-7).AddHours(14);
        scene.Unit(serial);
        scene.Office((at > opened ? at : opened).AddMinutes(slot), new UnitScheduled(serial, product.Mark, product.Drawing, Revision, product.Mix.Id, Form, Scene.Date(pourDay), product.Contract?.Id,
            product.Contract is null ? OpeningTheJob.StockProfile : null, product.Contract is null ? 1 : null));
        if (product.Contract is not null) Notice(HoldKind.Pour, pourDay.AddDays(-2).AddHours(9), PourAt);
    }

    protected void Notice(HoldKind hold, DateTimeOffset at, DateTimeOffset stepAt) =>
        scene.Office(at.AddMinutes(slot), new NoticeGiven([serial], hold, stepAt, $"notice {serial} {hold}"));

    protected virtual void TieCage()
    {
        var at = TiedAt;
        scene.Send(Plant.CageShop, Plant.CageForeman, at, Tied(Cage, Revision, at));
        Inspect(at.AddHours(1.2), new CageChecked(Cage, [], AsDrawn: true));
        scene.Send(Plant.CageShop, Plant.CageForeman, at.AddHours(2), new CageMoved(Cage, "form hall"));
    }

    protected virtual DateTimeOffset TiedAt => pourDay.AddHours(-11).AddMinutes(14 * slot);

    protected virtual CageTied Tied(string cage, string revision, DateTimeOffset at) => new(cage, serial, product.Drawing, revision,
        [.. product.Bars.Select(b => new TiedBars(b.BarMark, b.Size, b.Count, [Deliveries.Heat(scene, b.Size, at)]))], [Plant.CageForeman.Id]);

    protected virtual void SetCage()
    {
        var at = Morning;
        scene.Send(Plant.FormHall, Plant.FormForeman, at, new FormOiled(Form, serial, "Water-based release agent"));
        scene.Send(Plant.FormHall, Plant.FormForeman, at.AddMinutes(25), new CageSet(serial, Cage, Form));
        scene.Send(Plant.FormHall, Plant.FormForeman, at.AddMinutes(45), new InsertsFixed(serial, Form, [.. product.Embeds.Select(e => new FixedItem(e.Item, e.Count, e.Item == "lifting insert" ? Deliveries.Inserts : null))]));
    }

    protected DateTimeOffset Morning => pourDay.AddHours(6.3).AddMinutes(14 * slot);

    protected virtual void CloseUp()
    {
        Inspect(Morning.AddMinutes(80), Inspected(Steel(Cage)));
        scene.Send(Plant.FormHall, Plant.FormForeman, Morning.AddMinutes(110), new FormClosed(serial, Form, product.SetUp));
    }

    /// <summary>What the inspector records of the steel.</summary>
    protected virtual CloseUpInspected Inspected(CloseUpInspected usual) => usual;

    /// <summary>The steel as the inspector finds it: count and spacing as drawn, cover a little more than drawn.</summary>
    protected CloseUpInspected Steel(string cage) => new(serial, cage, Form,
        [.. product.Bars.Select(b => new CountedBars(b.BarMark, b.Size, b.Count, b.SpacingIn is { } s ? Readings.Tape(s, -2, 2) : null, b.LapIn is { } lap ? Readings.Tape(lap, 0, 4) : null))],
        [.. product.Bars.SelectMany(b => new[] { "near end", "far end" }.Select(p => new CoverReading($"{b.BarMark}, {p}", b.BarMark, Readings.Tape(b.CoverIn, 0, 2), b.DepthIn)))],
        SpacersInPlace: true, InsertsInPlace: true, LiftersInPlace: true, OilOnSteel: false, [Tools.Tape, Tools.CoverMeter]);

    protected virtual void PrePour() => Inspect(Morning.AddMinutes(170), ClosedForm());

    protected PrePourInspected ClosedForm() => new(serial, Form,
        [.. product.Dimensions.Select(d => new MeasuredDimension(d.Name, d.Kind == DimensionKind.Thickness ? Readings.Tape(d.SpecifiedIn, 0, 1) : Readings.Tape(d.SpecifiedIn, -1, 1)))],
        [.. product.Embeds.Select(e => new EmbedFound(e.Item, e.Count, true))], FormTight: true, [Tools.Tape]);

    /// <summary>The northern department was given notice of the pour and attends it.</summary>
    protected virtual void AgencyComes()
    {
        if (Agency == Books.North) AgencyActs(Morning.AddMinutes(190), new AgencyPresent([serial], HoldKind.Pour));
    }

    protected void AgencyActs(DateTimeOffset at, IFact fact) => scene.Send(Plant.AgencyDesk, Agency!.Inspector, at, fact);

    /// <summary>Placing; returns the sample that stands for the unit.</summary>
    protected virtual SampleTested Place()
    {
        var tickets = Batches();
        var sample = Sample(tickets[0].Batch);
        Placed(tickets.Select(t => (t.Batch, product.YardsABatch)));
        return sample;
    }

    protected virtual List<BatchTicketed> Batches()
    {
        var tickets = new List<BatchTicketed>();
        for (var i = 0; i < product.Batches; i++)
        {
            var ticket = Concrete.Ticket(PourAt.AddMinutes(13 * i), product.YardsABatch);
            Concrete.Send(ticket);
            Concrete.Accept(ticket.Batch, PourAt.AddMinutes(13 * i + 7));
            tickets.Add(ticket);
        }

        return tickets;
    }

    protected string SampleId => "SM-" + serial;

    protected SampleTested Sample(BatchId batch)
    {
        var sample = Concrete.Fresh(SampleId, batch, PourAt.AddMinutes(10));
        SendSample(sample);
        return sample;
    }

    protected virtual void SendSample(SampleTested sample) => SendSample(sample, Plant.FieldTechnician);

    protected void SendSample(SampleTested sample, Worker technician) =>
        scene.Send(Plant.Laboratory, technician, sample.SampledAt.AddMinutes(26), sample);

    protected void Placed(IEnumerable<(BatchId Batch, string Yards)> rows)
    {
        void Floor(double minutes, IFact fact) => scene.Send(Plant.PourFloor, Plant.PourForeman, PourAt.AddMinutes(minutes), fact);
        Floor(9, new PourStarted(Pour, [serial]));
        Floor(51, new PourFinished(Pour));
        Floor(52, new PourPlaced(Pour, PourAt.AddMinutes(9), PourAt.AddMinutes(50), [.. rows.Select((r, i) => new Placement(serial, r.Batch, R(r.Yards), i + 1))]));
        Inspect(PourAt.AddMinutes(56), new PourChecked(Pour, serial, InsertsInPlace: true, FinishAsDrawn: true));
    }

    // A gentle cure under covers: three hours until set, up to about 120 F after ten hours, then slowly down.
    public virtual void Cure()
    {
        var began = PourAt.AddMinutes(58);
        var peak = Readings.Between(114, 122);
        scene.Send(Plant.PourFloor, Plant.PourForeman, began, new CureBegun(Pour, CuringMethod.Heated));
        scene.Send(Plant.PourFloor, Plant.PourForeman, began.AddHours(3.1), new HeatTurned(Pour, true, R("110")));
        scene.Send(Plant.PourFloor, Plant.PourForeman, began.AddHours(10), new HeatTurned(Pour, false));
        scene.Send(Plant.Laboratory, Plant.StrengthTechnician, began.AddHours(17), new CureTemperatures(Pour, Probe,
            [.. Enumerable.Range(0, 68).Select(i =>
            {
                var hours = i / 4m;
                var rise = hours < 3 ? 0 : hours < 10 ? (hours - 3) / 7 : 1 - (hours - 10) / 7 * 0.5m;
                return new TemperatureReading(began.AddMinutes(15 * i), R(72 + (peak - 72) * rise, 0));
            })],
            InitialSetAt: PourAt.AddHours(3.7)));
        scene.Send(Plant.PourFloor, Plant.PourForeman, began.AddHours(18.6), new CureEnded(Pour));
    }

    protected DateTimeOffset StripAt => PourAt.AddHours(18.3);

    /// <summary>Two strip cylinders are broken in the morning, then the unit is lifted.</summary>
    protected virtual void Strip(SampleTested sample)
    {
        Concrete.Break(sample.Sample, "ST1", StripAt, 3450, 3750, BreakingMachine);
        Concrete.Break(sample.Sample, "ST2", StripAt.AddMinutes(6), 3450, 3750, BreakingMachine);
        Lifted(StripAt.AddMinutes(50));
    }

    protected void Lifted(DateTimeOffset at)
    {
        Release(HoldKind.Strip, at.AddMinutes(-20));
        LiftedOut(at);
    }

    public void LiftedOut(DateTimeOffset at) =>
        Yard(at, new UnitStripped(serial, $"{product.Lifting.LegsThatCarry}-leg equalising gear", product.Lifting.LegsThatCarry, R("60"), $"row {slot + 1}"));

    /// <summary>From the form to the site and to the 28-day break.</summary>
    protected virtual void After(SampleTested sample)
    {
        IntoCuring(sample);
        AsCast(StripAt.AddHours(3.5));
        ShipSet(sample);
        Ship(PourAt.AddDays(7).AddHours(3));
        Accept(sample);
    }

    protected virtual void IntoCuring(SampleTested sample) => Concrete.IntoCuring(sample, StripAt.AddMinutes(75));

    public virtual void AsCast(DateTimeOffset at)
    {
        Inspect(at, new AsCastInspected(serial, [.. product.Dimensions.Select(d => new MeasuredDimension(d.Name, d.Kind == DimensionKind.Thickness ? Readings.Tape(d.SpecifiedIn, 0, 1) : Readings.Tape(d.SpecifiedIn, -1, 1)))], SurfaceAsDrawn: true, [Tools.Tape]));
        Inspect(at.AddMinutes(15), new CracksMapped(serial, [], []));
        Yard(at.AddMinutes(30), new UnitMarked(serial, $"{serial} {product.Mark} {Scene.Date(pourDay):yyyy-MM-dd}", OnVisibleFace: true));
        Yard(at.AddMinutes(40), new UnitStored(serial, $"row {slot + 1}", BlockedAsDrawn: true));
    }

    protected virtual string BreakingMachine => Tools.Machine;

    protected virtual void ShipSet(SampleTested sample)
    {
        var week = PourAt.AddDays(7).AddMinutes(20);
        Concrete.Break(sample.Sample, "SH1", week, 5750, 6250, BreakingMachine);
        Concrete.Break(sample.Sample, "SH2", week.AddMinutes(6), 5750, 6250, BreakingMachine);
    }

    protected string Delivery => "DL-" + serial;

    /// <summary>Stamped, released, loaded, and received on site the same afternoon.</summary>
    public virtual void Ship(DateTimeOffset at)
    {
        Notice(HoldKind.Ship, at.AddDays(-2), at);
        AgencyShips(at);
        Release(HoldKind.Ship, at.AddMinutes(-30));
        Leave(at, Delivery);
        Received(at.AddHours(2.5), Delivery);
    }

    /// <summary>Whose inspector stamps it.</summary>
    protected virtual Agency? AgencyAtShipping => Agency;

    /// <summary>The inspector stamps the unit; the northern department holds the shipment itself and releases it.</summary>
    protected virtual void AgencyShips(DateTimeOffset at)
    {
        Stamped(at.AddMinutes(-45));
        if (AgencyAtShipping == Books.North) AgencyActs(at.AddMinutes(-42), new AgencyHoldReleased(serial, HoldKind.Ship));
    }

    protected void Stamped(DateTimeOffset at)
    {
        if (AgencyAtShipping is { } agency) scene.Send(Plant.AgencyDesk, agency.Inspector, at, new UnitStamped(serial, $"{(agency == Books.North ? "N" : "W")}-{serial}"));
    }

    protected void Leave(DateTimeOffset at, string delivery)
    {
        var truck = $"truck-{slot % 3 + 1}";
        scene.Send(Plant.Gate, Plant.Dispatcher, at.AddMinutes(-12), new DeliveryLoaded(delivery, truck, [serial]));
        Inspect(at.AddMinutes(-6), new LoadOutInspected(serial, truck, Secured: true, Sound: true, Marked: true));
        scene.Send(Plant.Gate, Plant.Dispatcher, at, new UnitShipped(serial, delivery, truck, $"invented site of {product.Contract?.Id ?? "stock"}"));
    }

    protected void Received(DateTimeOffset at, string delivery) =>
        scene.Send(Plant.Gate, Plant.Dispatcher, at, new DeliveryDelivered(delivery, [serial], "signed on the invented site"));

    protected virtual void Accept(SampleTested sample)
    {
        var month = PourAt.AddDays(28).AddMinutes(30);
        for (var i = 1; i <= 3; i++) Concrete.Break(sample.Sample, $"AC{i}", month.AddMinutes(6 * i), 6600, 7300, BreakingMachine);
    }
}
