using Traceability.Core.Events;
using Traceability.Core.Quantities;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>Where the plant keeps what is not tagged piece by piece.</summary>
internal static class Stores
{
    public const string CementSilo = "SILO-1", SlagSilo = "SILO-2", SandBin = "BIN-1", SecondSandBin = "BIN-3", StoneBin = "BIN-2", WaterTank = "TANK-1", ReducerTank = "TANK-2", AirTank = "TANK-3", Rack = "RACK-6";
}

/// <summary>Lots that come in with their certificates, into silos, bins and tanks, or as tagged bundles of bars.</summary>
internal sealed class Deliveries(Scene scene) : IChapter
{
    /// <summary>Week from which the second heats are taken.</summary>
    private const int SecondHeats = 5;

    /// <summary>The tagged bundle that bars of a size are taken from at a moment.</summary>
    public static LotId Heat(Scene scene, string size, DateTimeOffset at) => (size, at >= scene.At(SecondHeats, DayOfWeek.Monday)) switch
    {
        ("#4", false) => new("mill-a", "A40417"),
        ("#4", true) => new("mill-a", "A40466"),
        ("#5", false) => new("mill-a", "A50932"),
        ("#5", true) => new("mill-a", "A50988"),
        (_, false) => new("mill-b", "B61208"),
        (_, true) => new("mill-b", "B61291"),
    };

    public static readonly LotId Inserts = new("insert-1", "LI-20");

    public void Tell()
    {
        var first = scene.At(1, DayOfWeek.Monday, 8);
        foreach (var (size, i) in new[] { "#4", "#5", "#6" }.Select((s, i) => (s, i)))
        {
            Bars(Heat(scene, size, first), size, first.AddMinutes(8 * i));
            var second = scene.At(SecondHeats - 1, DayOfWeek.Thursday, 9).AddMinutes(8 * i);
            Bars(Heat(scene, size, scene.At(SecondHeats, DayOfWeek.Monday)), size, second);
        }

        for (var week = 1; week <= 8; week++) Week(week);
        Received(Inserts, Material.Embed, "Lifting inserts", first.AddMinutes(70), null);
        Questioned();
    }

    private void Week(int week)
    {
        var at = scene.At(week, DayOfWeek.Monday, 9.5);
        if (week is 1 or 3 or 5 or 7)
        {
            if (week == 5) scene.Send(Plant.Receiving, Plant.Receiver, at.AddMinutes(-30), new StorageEmptied(Stores.CementSilo, "Run empty and looked into from the hatch."));
            Into(Stores.CementSilo, new("cement-1", $"C-22{30 + week}"), Material.Cement, "Portland cement Type III", "52000", at, ("ASTM C150/C150M", "22", "Type III"));
        }

        if (week is 1 or 5) Into(Stores.SlagSilo, new("slag-1", $"S-09{10 + week}"), Material.SupplementaryCementitious, "Slag cement Grade 100", "50000", at.AddMinutes(10), ("ASTM C989/C989M", "22", "Grade 100"));
        if (week is 1 or 4 or 7)
        {
            Into(Stores.SandBin, new("pit-1", $"FA-{70 + week}"), Material.FineAggregate, "Natural sand", null, at.AddMinutes(20), null);
            Into(Stores.StoneBin, new("quarry-1", $"CA-{70 + week}"), Material.CoarseAggregate, "Crushed stone 1/2 in", null, at.AddMinutes(30), null);
            Grading(week, at.AddHours(2));
        }

        if (week is 1 or 5)
        {
            Into(Stores.ReducerTank, new("admixture-1", $"HR-55{week}"), Material.Admixture, "High-range water reducer", null, at.AddMinutes(40), ("ASTM C494/C494M", "19", "Type F"));
            Into(Stores.AirTank, new("admixture-1", $"AE-11{week}"), Material.Admixture, "Air-entraining admixture", null, at.AddMinutes(50), ("ASTM C260/C260M", "10a", "Air-entraining"));
        }

        if (week is 1 or 5) scene.Send(Plant.Laboratory, Plant.FieldTechnician, at.AddHours(3), new WaterTested(Stores.WaterTank, $"WT-{week}", Scene.Date(at), R("42"), R("60"), R("310")));
        if (week == 2) scene.Send(Plant.Receiving, Plant.Receiver, at.AddHours(1), new LotSampledByAgency(new("cement-1", "C-2231"), "N-118", Scene.Date(at)));
    }

    // Inserts whose paper cannot be read are set apart until the producer has sent it again; none of them is in a unit.
    private void Questioned()
    {
        var lot = new LotId("insert-1", "LI-21");
        var at = scene.At(3, DayOfWeek.Wednesday, 13);
        Received(lot, Material.Embed, "Lifting inserts", at, null);
        var apart = new LotQuarantined(lot, "Delivery paper cannot be read.");
        scene.Decide(at.AddMinutes(20), Plant.QualityEngineer, "decisions/lot-quarantines", new { lot, reason = apart.Reason }, apart);
        var cleared = new LotCleared(lot, "Paper sent again and read.", "Invented delivery paper LI-21, second copy");
        scene.Decide(at.AddHours(26), Plant.QualityEngineer, "decisions/lot-clearances", new { lot, reason = cleared.Reason, document = cleared.Document }, cleared);
    }

    private void Grading(int week, DateTimeOffset at)
    {
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, at, new AggregateGradingTested($"GR-{week}F", "storage:" + Stores.SandBin, at.AddHours(-1),
            [new("No. 4", R("98")), new("No. 8", R("86")), new("No. 16", R("68")), new("No. 30", R("47")), new("No. 50", R("20")), new("No. 100", R("5"))]));
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, at.AddMinutes(20), new AggregateGradingTested($"GR-{week}C", "storage:" + Stores.StoneBin, at.AddHours(-1),
            [new("3/4", R("100")), new("1/2", R("94")), new("3/8", R("58")), new("No. 4", R("8")), new("No. 8", R("2"))]));
    }

    private void Received(LotId lot, Material material, string description, DateTimeOffset at, string? weight, string? size = null) =>
        scene.Send(Plant.Receiving, Plant.Receiver, at, new LotReceived(lot, material, description, size, weight is null ? null : R(weight), $"D-{lot.Number}"));

    private void Into(string storage, LotId lot, Material material, string description, string? weight, DateTimeOffset at, (string Document, string Edition, string Grade)? certified)
    {
        Received(lot, material, description, at, weight);
        if (certified is { } c)
            scene.Send(Plant.Receiving, Plant.Receiver, at.AddMinutes(2), new LotCertified(lot, $"CERT-{lot.Number}", c.Document, c.Edition, c.Grade, Scene.Date(at.AddDays(-9)), ChloridePct: R("0.01")));
        scene.Send(Plant.Receiving, Plant.Receiver, at.AddMinutes(4), new StorageFilled(storage, lot, material, weight is null ? null : R(weight)));
    }

    private void Bars(LotId heat, string size, DateTimeOffset at)
    {
        BarsCome(scene, heat, size, at);
        MillCertificate(scene, heat, size, at.AddMinutes(4));
    }

    public static void BarsCome(Scene scene, LotId heat, string size, DateTimeOffset at) =>
        scene.Send(Plant.Receiving, Plant.Receiver, at, new LotReceived(heat, Material.Bar, $"Deformed bar {size}, Grade 60", size, R("21000"), $"D-{heat.Number}"));

    /// <summary>One heat's figures inside Grade 60 of either edition.</summary>
    public static void MillCertificate(Scene scene, LotId heat, string size, DateTimeOffset at, string country = "US")
    {
        var reading = scene.ReadingsOf(heat.Number);
        Reading Hundreds(decimal low, decimal high) => R(decimal.Round(reading.Between(low, high) / 100) * 100, 0);
        scene.Send(Plant.Receiving, Plant.Receiver, at, new LotCertified(heat, $"MTR-{heat.Number}", "ASTM A615/A615M", "22", "60", Scene.Date(at.AddDays(-20)), size,
            Hundreds(66000, 70000), Hundreds(99000, 106000), R(reading.Between(11.5m, 14.5m), 1), country, country));
    }
}
