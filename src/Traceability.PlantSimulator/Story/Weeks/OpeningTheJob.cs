using Traceability.Core.Events;
using Traceability.Core.Profiles;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>The first morning: limits, contracts, mixes, approvals, people and instruments are read in.</summary>
internal sealed class OpeningTheJob(Scene scene) : IChapter
{
    private const string NoteOnPages = "compared with the invented page";

    private DateTimeOffset _at = scene.At(1, DayOfWeek.Monday, 6);

    /// <summary>Stock units are cast to this profile until they are allocated.</summary>
    public const string StockProfile = "national-standards";

    public void Tell()
    {
        foreach (var name in Books.Contracts.Select(c => c.Profile).Append(StockProfile + "@1")) Profile(ProfileFile.Shipped(name));
        foreach (var contract in Books.Contracts) Open(contract);
        foreach (var mix in Books.Mixes) Approve(mix);
        Maturity();
        Approvals();
        People();
        Instruments();
    }

    private void Next(IFact fact) => scene.Office(_at = _at.AddMinutes(1), fact);

    // The invented agencies print every limit in manuals of their own, as invented as the agencies: nothing is claimed of a
    // page of a real document.
    private void Profile(ProfilePublished shipped)
    {
        const int FirstPage = 212, LimitsOnAPage = 6;
        IReadOnlyList<Limit> Confirmed(IReadOnlyList<Limit> limits) => [.. limits.Select((l, i) => l with
        {
            Source = new Citation("Invented Standard Specifications", SourceMark.Published, "2026", $"712.{20 + i}"),
            ConfirmedBy = Plant.QualityEngineer.Id,
            ConfirmedOn = scene.DaysAgo(40),
            ConfirmedPage = $"page {FirstPage + i / LimitsOnAPage}",
        })];
        var profile = shipped with { Limits = Confirmed(shipped.Limits) };
        Next(profile);
        foreach (var limit in profile.Limits.Take(3))
            Next(new ProfileConfirmed(profile.Profile, profile.Version, limit.Key, limit.Source.Document, $"{limit.ConfirmedPage}, {NoteOnPages}", scene.DaysAgo(40)));
    }

    private void Open(Contract contract)
    {
        var profile = ProfileFile.Shipped(contract.Profile);
        Next(new ContractOpened(contract.Id, contract.Title, contract.Agency.Name, profile.Profile, profile.Version, ObligatedOn: scene.DaysAgo(200), LetOn: scene.DaysAgo(120)));
        Next(new ContractObligated(contract.Id, scene.DaysAgo(200), $"Invented letter of obligation {contract.Id}"));
        Next(new ProfileAdopted(contract.Id, profile.Profile, profile.Version, "As the contract's letting states."));
    }

    private void Approve(Mix mix) => Next(new MixApproved(
        mix.Id, mix.Designation, scene.DaysAgo(60), $"Invented approval letter {mix.Id}", R("5000"), R("0.40"), R("6.0"), R("1/2"), scene.DaysAgo(-305),
        TargetFlowIn: mix.Flow is null ? null : R(mix.Flow), TargetSlumpIn: mix.Slump is null ? null : R(mix.Slump),
        CementitiousLbYd3: R(mix.Cement + mix.Slag, 0), DryCast: mix.DryCast ? true : null));

    // The laboratory's own tests of the flowing mix; neither agency lets it stand for cylinders, so it only informs.
    private void Maturity()
    {
        MaturityTest Test(string fahrenheitHours, string psi) => new(R(fahrenheitHours), R(psi));
        Next(new MaturityRelated(Books.Scc.Id, R("32"), [Test("400", "1480"), Test("800", "2650"), Test("1500", "3870"), Test("3000", "5120"), Test("8000", "6480"), Test("15000", "6990")],
            [Test("820", "2720")], scene.DaysAgo(-305), "Invented laboratory report M-7"));
    }

    private void Approvals()
    {
        foreach (var contract in Books.Contracts)
            Next(new PlantApproved(Plant.Id, contract.Agency.Name, "precast bridge units, culverts, barrier, manholes", ApprovalStatus.Approved, scene.DaysAgo(150), scene.DaysAgo(-215), $"Invented plant approval {contract.Id}"));
        foreach (var (producer, material) in new[]
                 {
                     ("mill-a", Material.Bar), ("mill-b", Material.Bar), ("mill-c", Material.Bar), ("cement-1", Material.Cement), ("slag-1", Material.SupplementaryCementitious),
                     ("pit-1", Material.FineAggregate), ("quarry-1", Material.CoarseAggregate), ("admixture-1", Material.Admixture), ("insert-1", Material.Embed),
                 })
        {
            Next(new SourceApproved(producer, material, scene.DaysAgo(160), scene.DaysAgo(-205), $"Invented list of approved sources, {producer}"));
        }
    }

    private void People()
    {
        void Certified(Worker person, Certification certification, int issuedDaysAgo, int years)
        {
            var issued = scene.DaysAgo(issuedDaysAgo);
            Next(new PersonCertified(person.Id, certification, "Invented certifying body", issued, issued.AddYears(years).AddDays(-1)));
        }

        Certified(Plant.Inspector, Certification.PlantInspector, 400, 3);
        Certified(Plant.FieldTechnician, Certification.FieldTestingTechnician, 700, 5);
        Certified(Plant.StrengthTechnician, Certification.StrengthTestingTechnician, 300, 5);
        foreach (var agency in new[] { Books.North, Books.West })
            Next(new InspectorAssigned(agency.Inspector.Id, agency.Name, scene.DaysAgo(100), Document: $"Invented letter of assignment {agency.Inspector.Id}"));
        Next(new RoleDelegated(Plant.QualityEngineer.Id, Plant.DeputyEngineer.Id, Roles.QualityEngineer, scene.DaysAgo(-12), scene.DaysAgo(-14), "Away at a course for three days."));
    }

    private void Instruments()
    {
        void Calibrated(string instrument, InstrumentKind kind, int daysAgo, int months, string? error = null)
        {
            var on = scene.DaysAgo(daysAgo);
            Next(new InstrumentCalibrated(instrument, kind, on, on.AddMonths(months).AddDays(-1), $"CAL-{instrument}-{on:yyMMdd}", error is null ? null : R(error)));
        }

        Calibrated(Tools.Machine, InstrumentKind.CompressionMachine, 45, 12, "0.3");
        Calibrated(Tools.SecondMachine, InstrumentKind.CompressionMachine, 60, 12, "0.4");
        Calibrated(Tools.AirMeter, InstrumentKind.AirMeter, 20, 3);
        Calibrated(Tools.Thermometer, InstrumentKind.Thermometer, 70, 12);
        Calibrated(Tools.CureThermometer, InstrumentKind.Thermometer, 70, 12);
        Calibrated(Tools.DensityMeasure, InstrumentKind.UnitWeightMeasure, 70, 12);
        Calibrated(Tools.Tape, InstrumentKind.Tape, 90, 12);
        Calibrated(Tools.CoverMeter, InstrumentKind.CoverMeter, 50, 12);
        Calibrated(Tools.WaterMeter, InstrumentKind.WaterMeter, 25, 6);
        Calibrated(Tools.Scale, InstrumentKind.Scale, 25, 6, "0.1");
        Calibrated(Tools.Oven, InstrumentKind.Scale, 30, 12, "0.1");
        for (var probe = 1; probe <= Tools.Probes; probe++) Calibrated(Tools.Probe(probe), InstrumentKind.TemperatureProbe, 80, 12);
        Next(new ScaleChecked(Tools.Scale, scene.DaysAgo(25), R("10000"), [.. new[] { "2500", "5000", "7500", "10000" }.Select(w => new ScalePoint(R(w), R(w)))]));
    }
}

/// <summary>The plant's instruments.</summary>
internal static class Tools
{
    public const string Machine = "CM-1", SecondMachine = "CM-2", AirMeter = "AM-1", Thermometer = "TH-1", CureThermometer = "TH-2", DensityMeasure = "DM-1",
        Tape = "TAPE-4", CoverMeter = "CVM-2", WaterMeter = "WM-1", Scale = "SC-1", Oven = "OV-1";

    public const int Probes = 8;

    public static string Probe(int number) => $"TP-{number}";
}
