using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>
/// Bars lie in a rack whose tags are gone. First a heat lies in it whose mill certificate comes late, then one that was
/// melted abroad. Cages tied from the rack may hold any heat that can still have been in it.
/// </summary>
internal sealed class MixedRack(Scene scene) : IChapter
{
    private const string Late = "A late certificate in a mixed rack", Abroad = "A foreign heat in a mixed rack";

    private static readonly LotId s_late = new("mill-a", "A50951"), s_next = new("mill-a", "A50960"), s_foreign = new("mill-c", "C50055");

    public void Tell()
    {
        Fill(Deliveries.Heat(scene, "#5", scene.FirstDay), scene.At(1, DayOfWeek.Wednesday, 9));
        var comes = scene.At(2, DayOfWeek.Monday, 8);
        Deliveries.BarsCome(scene, s_late, "#5", comes);
        Fill(s_late, comes.AddMinutes(25));
        var certified = scene.At(2, DayOfWeek.Tuesday, 10.3);
        Deliveries.MillCertificate(scene, s_late, "#5", certified);
        var frame = new LateHeat(scene);
        frame.Live();
        scene.Release(frame.Serial, HoldKind.Pour, certified.AddMinutes(-6), refused: true);
        scene.Expect(new FindingExpected(Late, certified.AddMinutes(-6), frame.Serial, "tying.heats-certified", Verdict.Missing, s_late.Number));
        scene.Expect(new HoldExpected(Late, null, frame.Serial, HoldKind.Pour, HoldState.Released, Contradicted: false));
        scene.Expect(new RecallExpected(Late, null, $"lot:{s_late.Producer}/{s_late.Number}", [], [frame.Serial]));

        var cleared = scene.At(3, DayOfWeek.Monday, 7);
        scene.Send(Plant.Receiving, Plant.Receiver, cleared, new StorageEmptied(Stores.Rack, "Every arm of the rack looked at."));
        Deliveries.BarsCome(scene, s_next, "#5", cleared.AddHours(1));
        Deliveries.MillCertificate(scene, s_next, "#5", cleared.AddHours(1.1));
        Fill(s_next, cleared.AddHours(1.5));
        var foreign = scene.At(3, DayOfWeek.Friday, 9);
        Deliveries.BarsCome(scene, s_foreign, "#5", foreign);
        Fill(s_foreign, foreign.AddMinutes(20));
        var read = scene.At(4, DayOfWeek.Monday, 16);
        Deliveries.MillCertificate(scene, s_foreign, "#5", read, country: "CA");
        var quarantined = new LotQuarantined(s_foreign, "Certificate states melting outside the United States.");
        scene.Decide(read.AddMinutes(12), Plant.QualityEngineer, "decisions/lot-quarantines", new { lot = s_foreign, reason = quarantined.Reason }, quarantined);
        var culvert = new ForeignHeat(scene);
        culvert.Before();
        scene.Release(culvert.Serial, HoldKind.Pour, scene.At(4, DayOfWeek.Tuesday, 13), refused: true);
        scene.Expect(new HoldExpected(Abroad, null, culvert.Serial, HoldKind.Pour, HoldState.Held));
        scene.Expect(new FindingExpected(Abroad, null, culvert.Serial, "tying.domestic", Verdict.CannotTell, s_foreign.Number));
        scene.Expect(new RecallExpected(Abroad, null, $"lot:{s_foreign.Producer}/{s_foreign.Number}", [], [culvert.Serial]));
    }

    private void Fill(LotId heat, DateTimeOffset at) => scene.Send(Plant.Receiving, Plant.Receiver, at, new StorageFilled(Stores.Rack, heat, Material.Bar, R("8400")));

    /// <summary>The bars of one size from the rack, the others from tagged bundles.</summary>
    private static CageTied FromRack(CageTied tied) => tied with { Bars = [.. tied.Bars.Select(b => b.Size == "#5" ? b with { Lots = [], Rack = Stores.Rack } : b)] };

    private sealed class LateHeat(Scene scene) : UnitLife(scene, Frames.Frame, "RF-0003", scene.At(2, DayOfWeek.Tuesday), 0)
    {
        protected override CageTied Tied(string cage, string revision, DateTimeOffset at) => FromRack(base.Tied(cage, revision, at));
    }

    private sealed class ForeignHeat(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0012", scene.At(4, DayOfWeek.Tuesday), Culverts.Second)
    {
        protected override CageTied Tied(string cage, string revision, DateTimeOffset at) => FromRack(base.Tied(cage, revision, at));
    }
}
