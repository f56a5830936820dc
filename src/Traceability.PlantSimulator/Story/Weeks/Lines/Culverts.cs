using Traceability.Core.Events;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Lines;

/// <summary>Box culverts of the road, for the western commission: two a day, from the first week to the day the story stops.</summary>
internal sealed class Culverts(Scene scene) : IChapter
{
    /// <summary>Turns of the two culvert forms, after the bridge's.</summary>
    public const int First = 2, Second = 3;

    public static readonly Product Box = new("BC8", "SD-420", "box-culvert", Books.Road, Books.Scc, ["BC-FORM-1", "BC-FORM-2"], "8 by 6", 2, "2.5",
        [
            new BarLine("C1", "#5", 24, R("118"), CoverFace.Formed, R("2"), R("6"), R("7 11/16"), R("24")),
            new BarLine("C2", "#4", 32, R("70"), CoverFace.Formed, R("1 1/2"), R("12"), R("6 3/4"), R("19")),
        ],
        [
            new SpecifiedDimension("span", DimensionKind.Opening, R("96")),
            new SpecifiedDimension("rise", DimensionKind.Opening, R("72")),
            new SpecifiedDimension("slab thickness", DimensionKind.Thickness, R("10")),
            new SpecifiedDimension("wall thickness", DimensionKind.Thickness, R("10")),
            new SpecifiedDimension("laying length", DimensionKind.Length, R("72")),
        ],
        [new EmbedLine("lifting insert", 4), new EmbedLine("joint tie pocket", 4)],
        new LiftingData(R("21000"), 4, R("60"), R("30000"), R("3000")));

    public void Tell()
    {
        Frames.Approved(scene, Box);
        // Twelve in which nothing goes wrong.
        new UnitLife(scene, Box, "BC-0001", scene.At(1, DayOfWeek.Thursday), First).Live();
        new UnitLife(scene, Box, "BC-0004", scene.At(2, DayOfWeek.Tuesday), Second).Live();
        var number = 21;
        foreach (var (week, day) in new[] { (5, DayOfWeek.Tuesday), (5, DayOfWeek.Thursday), (6, DayOfWeek.Tuesday), (6, DayOfWeek.Thursday), (7, DayOfWeek.Tuesday) })
        {
            foreach (var slot in new[] { First, Second }) new UnitLife(scene, Box, $"BC-{number++:D4}", scene.At(week, day), slot).Live();
        }

        // The last week: one whose ship set is due today, and two that were inspected this morning, to be poured today.
        new UnitLife(scene, Box, "BC-0015", scene.At(7, DayOfWeek.Thursday), First).Live();
        new UnitLife(scene, Box, "BC-0017", scene.At(8, DayOfWeek.Thursday), First).Live();
        new UnitLife(scene, Box, "BC-0018", scene.At(8, DayOfWeek.Thursday), Second).Live();
        foreach (var serial in new[] { "BC-0017", "BC-0018" })
            scene.Expect(new HoldExpected("Culverts of today", null, serial, HoldKind.Pour, Core.Judging.HoldState.Ready));
        scene.Expect(new FindingExpected("Culverts of today", null, "BC-0015", "ship.strength", Core.Judging.Verdict.Pending));
        foreach (var serial in new[] { "BC-0021", "BC-0022", "BC-0024" })
            scene.Expect(new HoldExpected("Culverts in which nothing goes wrong", null, serial, HoldKind.Ship, Core.Judging.HoldState.Released, Contradicted: false));
    }
}
