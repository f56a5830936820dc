using System.Globalization;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Story;

/// <summary>Plays the story onto two lists: what the stations send, and what people decide.</summary>
internal sealed class Stage(int seed, string key, DateTimeOffset firstDay)
{
    private const string Revision = "B";
    private const int BatchesPerUnit = 3;

    private readonly EventWriter _writer = new(key, seed);
    private readonly Random _random = new(seed);
    private readonly List<StoryFact> _facts = [];
    private readonly List<StoryRelease> _releases = [];
    private int _ticket = 4100;

    private string Drawing => key + "SD-310";
    private string Mix => key + "MX-50-SCC";
    private string Contract => key + "C-7741";
    private string AirMeter => "AM-1";
    private string Thermometer => "TH-1";
    private string DensityMeasure => "DM-1";
    private string Tape => "TAPE-4";
    private string CoverMeter => "CVM-2";
    private string WaterMeter => "WM-1";
    private string Scale => "SC-1";
    private string Probe(int form) => $"TP-{form + 1}";

    // The unit whose machine is found out has a machine of its own, so that the finding stays with that unit.
    private string Machine(Mishaps mishaps) => mishaps.HasFlag(Mishaps.MachineFoundOut) ? "CM-2" : "CM-1";

    private LotId Bars4 => new("mill-a", key + "A40417");
    private LotId Bars5 => new("mill-a", key + "A50932");
    private LotId Bars6 => new("mill-b", key + "B61208");
    private LotId Cement => new("cement-1", key + "C-2231");
    private const string Agency = "Invented Highway Agency";

    private LotId Slag => new("slag-1", key + "S-0914");
    private LotId Sand => new("pit-1", key + "FA-77");
    private LotId Stone => new("quarry-1", key + "CA-78");
    private LotId Reducer => new("admixture-1", key + "HR-551");
    private LotId AirAgent => new("admixture-1", key + "AE-118");
    private LotId Inserts => new("insert-1", key + "LI-20");

    public IReadOnlyList<StoryFact> Facts => _facts;

    public IReadOnlyList<StoryRelease> Releases => _releases;

    private static string FormId(int form) => $"RF-FORM-{form + 1}";

    private static Reading R(string text) => Reading.Parse(text);

    private static Reading R(decimal value, int digits) => Reading.Parse(decimal.Round(value, digits).ToString("F" + digits, CultureInfo.InvariantCulture));

    private decimal Between(decimal low, decimal high) => low + (high - low) * (decimal)_random.NextDouble();

    private static DateOnly Date(DateTimeOffset at) => DateOnly.FromDateTime(at.DateTime);

    private CloudEvent Send(Station station, Worker person, DateTimeOffset at, IFact fact, bool favourable = true,
        Mishaps mishap = Mishaps.None, DateTimeOffset? arrives = null, string? id = null)
    {
        var written = _writer.Write(station, person, at, fact, id);
        // A station sends what it recorded a few seconds later.
        _facts.Add(new StoryFact(written, station.Device, arrives ?? at.AddSeconds(5), favourable, mishap));
        return written;
    }

    private void Release(string unit, HoldKind hold, DateTimeOffset at) => _releases.Add(new StoryRelease(unit, hold, at, Plant.Inspector.Id));

    public void OpenTheJob(int units, int forms, bool confirmed)
    {
        var at = firstDay.AddHours(7);
        var profile = Profile(confirmed);
        Send(Plant.Office, Plant.QualityEngineer, at, profile);
        Send(Plant.Office, Plant.QualityEngineer, at.AddMinutes(2), new ContractOpened(
            Contract, "Two invented bridges on an invented road", Agency, profile.Profile, profile.Version,
            ObligatedOn: Date(firstDay.AddDays(-200)), LetOn: Date(firstDay.AddDays(-120))));
        Send(Plant.Office, Plant.QualityEngineer, at.AddMinutes(5), DrawingOfTheFrame());
        Send(Plant.Office, Plant.QualityEngineer, at.AddMinutes(9), new MixApproved(
            Mix, "5,000 psi self-consolidating", Date(firstDay.AddDays(-60)), "Invented approval letter MX-50-SCC", R("5000"),
            R("0.40"), R("6.0"), R("1/2"), Date(firstDay.AddDays(305)), TargetFlowIn: R("26")));
        People(at.AddMinutes(15));
        Instruments(at.AddMinutes(30), forms);
        Deliveries(at.AddHours(2), units);
    }

    // Where limits are confirmed, the invented agency prints each in a specification of its own, as invented as the agency
    // itself: nothing is claimed of a page of a real document.
    private ProfilePublished Profile(bool confirmed)
    {
        const int FirstClause = 20, FirstPage = 212, LimitsOnAPage = 6;
        var profile = ProfileFile.Baseline();
        return profile with
        {
            Profile = key + profile.Profile,
            Title = confirmed ? "Rigid-frame units, Section 712 of the invented agency" : profile.Title,
            Limits = !confirmed ? profile.Limits : [.. profile.Limits.Select((l, i) => l with
            {
                Source = new Citation("Invented Standard Specifications", SourceMark.Published, "2026", $"712.{FirstClause + i}"),
                Rank = LimitRank.StandardSpecification,
                ConfirmedBy = Plant.QualityEngineer.Id,
                ConfirmedOn = Date(firstDay.AddDays(-40)),
                ConfirmedPage = $"page {FirstPage + i / LimitsOnAPage}",
            })],
        };
    }

    private DrawingApproved DrawingOfTheFrame() => new(
        Drawing, Revision, "rigid-frame", Date(firstDay.AddDays(-30)), "Invented approval stamp 0412", R("5000"), R("3000"), R("5000"),
        [
            new BarLine("A1", "#5", 36, R("138"), CoverFace.Formed, R("2"), R("6"), R("9 11/16"), R("24")),
            new BarLine("A2", "#6", 24, R("282"), CoverFace.FormedSoffit, R("1 1/2"), R("6"), R("10 1/8")),
            new BarLine("B1", "#4", 52, R("68"), CoverFace.Formed, R("2"), R("12"), R("9 1/8"), R("19")),
        ],
        [
            new SpecifiedDimension("clear span", DimensionKind.Opening, R("288")),
            new SpecifiedDimension("clear rise", DimensionKind.Opening, R("96")),
            new SpecifiedDimension("slab thickness", DimensionKind.Thickness, R("12")),
            new SpecifiedDimension("leg thickness", DimensionKind.Thickness, R("12")),
            new SpecifiedDimension("laying length", DimensionKind.Length, R("72")),
            new SpecifiedDimension("weep sleeve above footing", DimensionKind.Position, R("14")),
        ],
        [new EmbedLine("lifting insert", 4), new EmbedLine("weep sleeve 3 in", 2), new EmbedLine("joint tie pocket", 4)],
        // 4 legs on equalising gear: a leg carries weight / (4 sin 60), an insert four times that.
        new LiftingData(R("36600"), 4, R("60"), R("48000"), R("3000")));

    private void People(DateTimeOffset at)
    {
        void Certified(Worker person, Certification certification, int issuedDaysAgo, int years)
        {
            var issued = Date(firstDay.AddDays(-issuedDaysAgo));
            Send(Plant.Office, Plant.QualityEngineer, at = at.AddMinutes(1), new PersonCertified(
                person.Id, certification, "Invented certifying body", issued, issued.AddYears(years).AddDays(-1)));
        }

        Certified(Plant.Inspector, Certification.PlantInspector, 400, 3);
        Certified(Plant.FieldTechnician, Certification.FieldTestingTechnician, 700, 5);
        Certified(Plant.StrengthTechnician, Certification.StrengthTestingTechnician, 300, 5);
        // Five years and a day before the job began: the certificate ran out on the day before.
        Certified(Plant.LapsedTechnician, Certification.FieldTestingTechnician, 1828, 5);
        Send(Plant.Office, Plant.QualityEngineer, at.AddMinutes(1), new InspectorAssigned(Plant.NorthInspector.Id, Agency, Date(firstDay.AddDays(-100)), Document: "Invented letter of assignment"));
    }

    private void Instruments(DateTimeOffset at, int forms)
    {
        void Calibrated(string instrument, InstrumentKind kind, int daysAgo, int months, string? error = null)
        {
            var on = Date(firstDay.AddDays(-daysAgo));
            Send(Plant.Office, Plant.QualityEngineer, at = at.AddMinutes(1), new InstrumentCalibrated(
                instrument, kind, on, on.AddMonths(months).AddDays(-1), $"{key}CAL-{instrument}-{on:yyMMdd}", error is null ? null : R(error)));
        }

        Calibrated("CM-1", InstrumentKind.CompressionMachine, 45, 12, "0.3");
        Calibrated("CM-2", InstrumentKind.CompressionMachine, 60, 12, "0.4");
        Calibrated(AirMeter, InstrumentKind.AirMeter, 20, 3);
        Calibrated(Thermometer, InstrumentKind.Thermometer, 70, 12);
        Calibrated(DensityMeasure, InstrumentKind.UnitWeightMeasure, 70, 12);
        Calibrated(Tape, InstrumentKind.Tape, 90, 12);
        Calibrated(CoverMeter, InstrumentKind.CoverMeter, 50, 12);
        Calibrated(WaterMeter, InstrumentKind.WaterMeter, 25, 6);
        Calibrated(Scale, InstrumentKind.Scale, 25, 6, "0.1");
        for (var form = 0; form < forms; form++) Calibrated(Probe(form), InstrumentKind.TemperatureProbe, 80, 12);
    }

    private void Deliveries(DateTimeOffset at, int units)
    {
        void Received(LotId lot, Material material, string description, string? size = null, string? weight = null) =>
            Send(Plant.Receiving, Plant.Receiver, at = at.AddMinutes(6), new LotReceived(
                lot, material, description, size, weight is null ? null : R(weight), $"{key}D-{lot.Number}"));

        foreach (var (lot, size) in new[] { (Bars4, "#4"), (Bars5, "#5"), (Bars6, "#6") })
        {
            Received(lot, Material.Bar, $"Deformed bar {size}, Grade 60", size, (4000 + 900 * units).ToString(CultureInfo.InvariantCulture));
            at = at.AddMinutes(4);
            MillCertificate(lot, size, at);
        }

        Received(Cement, Material.Cement, "Portland cement Type III", weight: "52000");
        Certificate(Cement, "ASTM C150/C150M", "22", "Type III", at = at.AddMinutes(2));
        Received(Slag, Material.SupplementaryCementitious, "Slag cement Grade 100", weight: "50000");
        Certificate(Slag, "ASTM C989/C989M", "22", "Grade 100", at = at.AddMinutes(2));
        Received(Sand, Material.FineAggregate, "Natural sand");
        Received(Stone, Material.CoarseAggregate, "Crushed stone 1/2 in");
        Received(Reducer, Material.Admixture, "High-range water reducer");
        Certificate(Reducer, "ASTM C494/C494M", "19", "Type F", at = at.AddMinutes(2));
        Received(AirAgent, Material.Admixture, "Air-entraining admixture");
        Certificate(AirAgent, "ASTM C260/C260M", "10a", "Air-entraining", at = at.AddMinutes(2));
        Received(Inserts, Material.Embed, "Lifting inserts");
    }

    private void MillCertificate(LotId lot, string size, DateTimeOffset at, Mishaps mishap = Mishaps.None, string country = "US")
    {
        // One heat's figures inside Grade 60: yield 60,000 psi and tensile 80,000 psi are the least.
        Send(Plant.Receiving, Plant.Receiver, at, new LotCertified(
            lot, $"MTR-{lot.Number}", "ASTM A615/A615M", "22", "60", Date(firstDay.AddDays(-25)), size,
            R(decimal.Round(Between(66000, 70000) / 100) * 100, 0), R(decimal.Round(Between(99000, 106000) / 100) * 100, 0), R(Between(11.5m, 14.5m), 1), country, country),
            favourable: country == "US", mishap: mishap);
    }

    private void Certificate(LotId lot, string specification, string edition, string grade, DateTimeOffset at) =>
        Send(Plant.Receiving, Plant.Receiver, at, new LotCertified(
            lot, $"CERT-{lot.Number}", specification, edition, grade, Date(firstDay.AddDays(-12))));

    public void Unit(string serial, int index, int form, DateTimeOffset pourDay, Mishaps mishaps)
    {
        var late = mishaps.HasFlag(Mishaps.OutOfOrderArrival);
        var cage = $"{key}CG-{index + 1:D4}";
        // Forms of one day are poured one after the other by the same crew.
        var shift = TimeSpan.FromMinutes(75 * form);
        var formId = FormId(form);

        Send(Plant.Office, Plant.QualityEngineer, firstDay.AddHours(13).AddMinutes(index), new UnitScheduled(
            serial, "RF24", Drawing, Revision, Mix, formId, Date(pourDay), Contract));

        var tied = pourDay.AddHours(-11) + shift / 5;
        var bars6 = Bars6;
        if (mishaps.HasFlag(Mishaps.LateMillCertificate))
        {
            bars6 = new LotId("mill-b", key + "B61377");
            Send(Plant.Receiving, Plant.Receiver, tied.AddHours(-3), new LotReceived(
                bars6, Material.Bar, "Deformed bar #6, Grade 60", "#6", R("4200"), key + "D-B61377"), mishap: Mishaps.LateMillCertificate);
            MillCertificate(bars6, "#6", tied.AddHours(18.5), Mishaps.LateMillCertificate);
        }

        if (mishaps.HasFlag(Mishaps.ForeignHeat))
        {
            bars6 = new LotId("mill-c", key + "C60055");
            Send(Plant.Receiving, Plant.Receiver, tied.AddHours(-5), new LotReceived(
                bars6, Material.Bar, "Deformed bar #6, Grade 60", "#6", R("3900"), key + "D-C60055"), mishap: Mishaps.ForeignHeat);
            MillCertificate(bars6, "#6", tied.AddHours(-4.5), Mishaps.ForeignHeat, country: "CA");
        }

        Send(Plant.CageShop, Plant.CageForeman, tied, new CageTied(cage, serial, Drawing, Revision,
            [new TiedBars("A1", "#5", 36, [Bars5]), new TiedBars("A2", "#6", 24, [bars6]), new TiedBars("B1", "#4", 52, [Bars4])],
            [Plant.CageForeman.Id]), arrives: late ? pourDay.AddHours(9.9) : null, mishap: late ? Mishaps.OutOfOrderArrival : Mishaps.None);

        var morning = pourDay.AddHours(6.5) + shift / 5;
        Send(Plant.FormHall, Plant.FormForeman, morning, new FormOiled(formId, serial, "Water-based release agent"));
        CloseUp(serial, cage, formId, morning.AddMinutes(80), mishaps);
        PrePour(serial, formId, morning.AddHours(3));
        if (mishaps.HasFlag(Mishaps.ForeignHeat)) return;
        Release(serial, HoldKind.Pour, pourDay.AddHours(10.5) + shift);

        var pourAt = pourDay.AddHours(11) + shift;
        var pour = $"{key}P-{Date(pourDay):yyMMdd}-{form + 1}";
        var batches = Batches(pourAt, mishaps);
        Send(Plant.PourFloor, Plant.PourForeman, pourAt.AddMinutes(52), new PourPlaced(pour, pourAt.AddMinutes(9), pourAt.AddMinutes(50),
            [.. batches.Select((b, i) => new Placement(serial, b, R("3.0"), i + 1))]));
        var sample = Sample(serial, batches[0], pourAt, mishaps);
        Cure(pour, Probe(form), serial, pourAt, mishaps);
        Strip(serial, sample, pourAt, form, mishaps);
        Ship(serial, index, sample, pourAt, mishaps);
    }

    private void CloseUp(string serial, string cage, string form, DateTimeOffset at, Mishaps mishaps)
    {
        string Near(params string[] readings) => readings[_random.Next(readings.Length)];
        CloseUpInspected Inspected(string legCover) => new(serial, cage, form,
            [
                new CountedBars("A1", "#5", 36, R(Near("6", "6 1/8", "5 7/8")), R(Near("24", "24 1/4"))),
                new CountedBars("A2", "#6", 24, R(Near("6", "5 7/8"))),
                new CountedBars("B1", "#4", 52, R(Near("12", "11 7/8", "12 1/4")), R(Near("19", "19 1/2"))),
            ],
            [
                new CoverReading("north leg, outer face, mid-height", "A1", R(legCover), R("9 11/16")),
                new CoverReading("south leg, outer face, mid-height", "A1", R(_cover), R("9 11/16")),
                new CoverReading("slab soffit, quarter span", "A2", R(_soffit), R("10 1/8")),
                new CoverReading("slab top, midspan", "B1", R("2 1/16"), R("9 1/8")),
            ],
            SpacersInPlace: true, InsertsInPlace: true, LiftersInPlace: true, OilOnSteel: false, [Tape, CoverMeter]);

        _cover = Near("1 15/16", "2", "2 1/16", "1 7/8");
        _soffit = Near("1 1/2", "1 7/16", "1 9/16");
        var right = Inspected("1 15/16");
        if (!mishaps.HasFlag(Mishaps.CoverMistyped))
        {
            Send(Plant.Inspection, Plant.Inspector, at, right);
            return;
        }

        // Everything but the one reading is as it was.
        var wrong = right with { Covers = [right.Covers[0] with { CoverIn = R("1 1/16") }, .. right.Covers.Skip(1)] };
        var sent = Send(Plant.Inspection, Plant.Inspector, at, wrong, favourable: false, mishap: Mishaps.CoverMistyped);
        Send(Plant.Office, Plant.QualityEngineer, at.AddMinutes(50), new RecordCorrected(sent.RecordId, 1, sent.Type, FactCatalog.Write(right),
            "Mistyped: the sheet and the photo show 1 15/16 in at the north leg; measured again with the inspector."), mishap: Mishaps.CoverMistyped);
    }

    private string _cover = "2", _soffit = "1 1/2";

    private void PrePour(string serial, string form, DateTimeOffset at)
    {
        string Near(params string[] readings) => readings[_random.Next(readings.Length)];
        Send(Plant.Inspection, Plant.Inspector, at, new PrePourInspected(serial, form,
            [
                new MeasuredDimension("clear span", R(Near("288", "288 1/8", "287 7/8"))),
                new MeasuredDimension("clear rise", R(Near("96", "96 1/8"))),
                new MeasuredDimension("slab thickness", R(Near("12", "12 1/16"))),
                new MeasuredDimension("leg thickness", R(Near("12", "12 1/16", "11 15/16"))),
                new MeasuredDimension("laying length", R(Near("72", "71 15/16", "72 1/16"))),
                new MeasuredDimension("weep sleeve above footing", R(Near("14", "14 1/8"))),
            ],
            [new EmbedFound("lifting insert", 4, true), new EmbedFound("weep sleeve 3 in", 2, true), new EmbedFound("joint tie pocket", 4, true)],
            FormTight: true, [Tape]));
    }

    // Per cubic yard, saturated surface dry: cement 560, slag 190, water 285, sand 1,370, stone 1,440 lb; w/cm 0.38, 6 % air.
    private List<BatchId> Batches(DateTimeOffset pourAt, Mishaps mishaps)
    {
        const decimal Yards = 3m, SandAbsorption = 1.2m, StoneAbsorption = 0.6m;
        decimal sandMoisture = decimal.Round(Between(4.6m, 5.8m), 1), stoneMoisture = decimal.Round(Between(0.8m, 1.4m), 1);
        var sandDry = 1370m / (1 + SandAbsorption / 100);
        var stoneDry = 1440m / (1 + StoneAbsorption / 100);
        var sand = decimal.Round(sandDry * (1 + sandMoisture / 100) * Yards);
        var stone = decimal.Round(stoneDry * (1 + stoneMoisture / 100) * Yards);
        var free = sandDry * (sandMoisture - SandAbsorption) / 100 + stoneDry * (stoneMoisture - StoneAbsorption) / 100;
        var water = decimal.Round((285m - free) * Yards, 1);

        var batches = new List<BatchId>();
        for (var i = 0; i < BatchesPerUnit; i++)
        {
            var charged = pourAt.AddMinutes(13 * i);
            var batch = new BatchId(Plant.Id, key + (++_ticket).ToString(CultureInfo.InvariantCulture), Date(charged));
            batches.Add(batch);
            Weighed Weigh(Material material, string name, decimal target, decimal withinPct, int digits, LotId lot, string? capacity = null, decimal? moisture = null, decimal? absorption = null) =>
                new(material, name, R(target, digits), R(target * (1 + Between(-withinPct, withinPct) / 100), digits), capacity is null ? null : R(capacity),
                    moisture is null ? null : R(moisture.Value, 1), absorption is null ? null : R(absorption.Value, 1), lot);
            var ticket = new BatchTicketed(batch, Mix, R("3.00"),
                [
                    Weigh(Material.Cement, "cement Type III", 560 * Yards, 0.6m, 0, Cement, "4000"),
                    Weigh(Material.SupplementaryCementitious, "slag cement", 190 * Yards, 0.6m, 0, Slag, "1800"),
                    Weigh(Material.FineAggregate, "sand", sand, 1.0m, 0, Sand, "10000", sandMoisture, SandAbsorption),
                    Weigh(Material.CoarseAggregate, "stone 1/2 in", stone, 1.0m, 0, Stone, "10000", stoneMoisture, StoneAbsorption),
                    Weigh(Material.Admixture, "high-range water reducer", 13.2m, 1.0m, 1, Reducer),
                    Weigh(Material.Admixture, "air-entraining admixture", 1.24m, 1.0m, 2, AirAgent),
                ],
                R(water, 1), R(water * (1 + Between(-0.9m, 0.9m) / 100), 1), charged, MoistureBasis.Probe, Instruments: [Scale, WaterMeter]);
            var late = i == 1 && mishaps.HasFlag(Mishaps.OutOfOrderArrival);
            Send(Plant.BatchHouse, Plant.BatchOperator, charged.AddMinutes(4), ticket,
                mishap: late ? Mishaps.OutOfOrderArrival : Mishaps.None, arrives: late ? charged.AddHours(5) : null);
            if (i == 0 && mishaps.HasFlag(Mishaps.TicketTwice))
                Send(Plant.TicketFiles, Plant.BatchOperator, charged.AddHours(3), ticket, mishap: Mishaps.TicketTwice);
        }

        return batches;
    }

    private string Sample(string serial, BatchId batch, DateTimeOffset pourAt, Mishaps mishaps)
    {
        var sample = $"{key}SM-{batch.Ticket[key.Length..]}";
        var lapsed = mishaps.HasFlag(Mishaps.LapsedTechnician);
        string[] flows = ["25 1/2", "26", "26 1/2"];
        var cylinders = new List<CylinderCast>();
        void Cast(string mark, int count, CylinderPurpose purpose, CuringPlace curing)
        {
            for (var i = 1; i <= count; i++) cylinders.Add(new CylinderCast($"{mark}{i}", purpose, "4x8", curing));
        }

        // Strip cylinders lie with the unit; four, so that a crew can wait and break again.
        Cast("ST", 4, CylinderPurpose.Strip, CuringPlace.WithUnit);
        Cast("SH", 2, CylinderPurpose.Ship, CuringPlace.Standard);
        Cast("AC", 3, CylinderPurpose.Acceptance, CuringPlace.Standard);
        Cast("SP", 1, CylinderPurpose.Spare, CuringPlace.Standard);
        Send(Plant.Laboratory, lapsed ? Plant.LapsedTechnician : Plant.FieldTechnician, pourAt.AddMinutes(40), new SampleTested(
            sample, batch, pourAt.AddMinutes(14), R(Between(68, 76), 0), cylinders, pourAt.AddMinutes(22), [AirMeter, Thermometer, DensityMeasure],
            [R(flows[_random.Next(3)]), R(flows[_random.Next(3)])], _random.Next(2), R(Between(6.0m, 6.8m), 1), R("0.4"), R(Between(141.4m, 143.2m), 1)),
            favourable: !lapsed, mishap: lapsed ? Mishaps.LapsedTechnician : Mishaps.None);
        return sample;
    }

    // A gentle cure under covers: three hours until set, up to about 120 F after ten hours, then slowly down.
    private void Cure(string pour, string probe, string serial, DateTimeOffset pourAt, Mishaps mishaps)
    {
        var began = pourAt.AddMinutes(55);
        var peak = Between(114, 124);
        CureTemperatures ReadOut(decimal peakF) => new(pour, probe,
            [.. Enumerable.Range(0, 68).Select(i =>
            {
                var hours = i / 4m;
                var rise = hours < 3 ? 0 : hours < 10 ? (hours - 3) / 7 : 1 - (hours - 10) / 7 * 0.5m;
                return new TemperatureReading(began.AddMinutes(15 * i), R(72 + (peakF - 72) * rise, 0));
            })],
            InitialSetAt: pourAt.AddHours(3.7));

        var read = began.AddHours(17.2);
        if (!mishaps.HasFlag(Mishaps.OtherContentUnderOneId))
        {
            Send(Plant.Laboratory, Plant.StrengthTechnician, read, ReadOut(peak));
            return;
        }

        // Refused when intake still knows the first content; else both are recorded and neither counts until the third comes.
        var id = $"{key}{probe}-{serial}-readout";
        Send(Plant.Laboratory, Plant.StrengthTechnician, read.AddMinutes(-14), ReadOut(peak), mishap: Mishaps.OtherContentUnderOneId, id: id);
        Send(Plant.Laboratory, Plant.StrengthTechnician, read.AddMinutes(-14), ReadOut(peak + 40), favourable: false, mishap: Mishaps.OtherContentUnderOneId, id: id,
            arrives: read.AddMinutes(-9));
        Send(Plant.Laboratory, Plant.StrengthTechnician, read, ReadOut(peak), mishap: Mishaps.OtherContentUnderOneId);
    }

    private void Break(string sample, string cylinder, DateTimeOffset at, decimal psi, string machine, bool favourable = true, Mishaps mishap = Mishaps.None)
    {
        decimal first = decimal.Round(Between(3.99m, 4.02m), 2), second = decimal.Round(Between(3.99m, 4.02m), 2);
        var diameter = (first + second) / 2;
        var load = decimal.Round(psi * 3.14159m / 4 * diameter * diameter / 10) * 10;
        int[] fractures = [2, 3, 3, 5];
        Send(Plant.Laboratory, Plant.StrengthTechnician, at, new CylinderBroken(
            sample, cylinder, R(first, 2), R(second, 2), R(Between(7.95m, 8.05m), 2), R(load, 0), fractures[_random.Next(fractures.Length)],
            "unbonded caps", machine), favourable, mishap);
    }

    private void Strip(string serial, string sample, DateTimeOffset pourAt, int form, Mishaps mishaps)
    {
        var machine = Machine(mishaps);
        var at = pourAt.AddHours(18.3);
        var mishap = mishaps.HasFlag(Mishaps.MachineFoundOut) ? Mishaps.MachineFoundOut : Mishaps.None;
        var next = 1;
        if (mishaps.HasFlag(Mishaps.LowStripSet))
        {
            Break(sample, "ST1", at, Between(2380, 2480), machine, favourable: false, Mishaps.LowStripSet);
            Break(sample, "ST2", at.AddMinutes(5), Between(2380, 2480), machine, favourable: false, Mishaps.LowStripSet);
            at = at.AddHours(5.5);
            next = 3;
            mishap = Mishaps.LowStripSet;
        }

        Break(sample, $"ST{next}", at, Between(3450, 3750), machine, mishap: mishap);
        Break(sample, $"ST{next + 1}", at.AddMinutes(6), Between(3450, 3750), machine, mishap: mishap);
        Release(serial, HoldKind.Strip, at.AddMinutes(30));
        Send(Plant.Yard, Plant.YardForeman, at.AddMinutes(55), new UnitStripped(serial, "four-leg equalising gear", 4, R("60"), $"row {form + 1}"));
    }

    private void Ship(string serial, int index, string sample, DateTimeOffset pourAt, Mishaps mishaps)
    {
        var machine = Machine(mishaps);
        var week = pourAt.AddDays(7).AddMinutes(20);
        Break(sample, "SH1", week, Between(5750, 6250), machine);
        Break(sample, "SH2", week.AddMinutes(6), Between(5750, 6250), machine);
        // The lapsed technician's test stands in the way: that unit stays in the yard.
        if (!mishaps.HasFlag(Mishaps.LapsedTechnician))
        {
            Release(serial, HoldKind.Ship, week.AddHours(2));
            Send(Plant.Gate, Plant.Dispatcher, week.AddHours(3), new UnitShipped(serial, $"{key}DL-{index + 1:D4}", $"truck-{index % 3 + 1}", "invented bridge site A"));
        }

        var month = pourAt.AddDays(28).AddMinutes(30);
        for (var i = 1; i <= 3; i++) Break(sample, $"AC{i}", month.AddMinutes(6 * i), Between(6600, 7300), machine);
        if (mishaps.HasFlag(Mishaps.MachineFoundOut))
        {
            var found = pourAt.AddDays(8);
            Send(Plant.Office, Plant.QualityEngineer, found, new InstrumentCalibrated(
                "CM-2", InstrumentKind.CompressionMachine, Date(found), Date(found).AddYears(1).AddDays(-1), $"{key}CAL-CM-2-{Date(found):yyMMdd}", R("2.6")),
                favourable: false, mishap: Mishaps.MachineFoundOut);
        }
    }
}
