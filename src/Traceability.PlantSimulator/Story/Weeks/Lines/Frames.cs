using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Lines;

/// <summary>The bridge: eight rigid frames and their wing walls, for the northern department.</summary>
internal sealed class Frames(Scene scene) : IChapter
{
    public static readonly Product Frame = new("RF24", "SD-310", "rigid-frame", Books.Bridge, Books.Scc, ["RF-FORM-1", "RF-FORM-2"], "span 24, rise 8", 3, "3.0",
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
        new LiftingData(R("36600"), 4, R("60"), R("48000"), R("3000")));

    public static readonly Product WingWall = new("WW1", "SD-311", "wing-wall", Books.Bridge, Books.Scc, ["WW-FORM-1"], "height 7", 1, "2.0",
        [
            new BarLine("W1", "#5", 18, R("80"), CoverFace.Formed, R("2"), R("8"), R("7 11/16"), R("24")),
            new BarLine("W2", "#4", 14, R("110"), CoverFace.Formed, R("2"), R("12"), R("7 1/4"), R("19")),
        ],
        [
            new SpecifiedDimension("height", DimensionKind.Length, R("84")),
            new SpecifiedDimension("length", DimensionKind.Length, R("120")),
            new SpecifiedDimension("thickness", DimensionKind.Thickness, R("10")),
        ],
        [new EmbedLine("lifting insert", 2), new EmbedLine("joint tie pocket", 2)],
        new LiftingData(R("9500"), 2, R("60"), R("24000"), R("3000")));

    public void Tell()
    {
        Approved(scene, Frame);
        Approved(scene, WingWall);
        scene.Expect(new HoldExpected("A frame in which nothing goes wrong", null, "RF-0001", HoldKind.Ship, Core.Judging.HoldState.Released, Contradicted: false));
        scene.Expect(new PlaceExpected("A frame in which nothing goes wrong", null, "RF-0001", UnitPhase.Delivered));
    }

    /// <summary>Drawing in force before the job; each form's set-up inspected before its first use.</summary>
    public static void Approved(Scene scene, Product product)
    {
        scene.Office(scene.At(1, DayOfWeek.Monday, 7.2), product.Approval("B", scene.DaysAgo(30), $"Invented approval stamp {product.Drawing}-B"));
        foreach (var form in product.Forms)
        {
            scene.Send(Plant.Inspection, Plant.Inspector, scene.At(1, DayOfWeek.Wednesday, 9), new FormInspected(form, product.SetUp,
                [.. product.Dimensions.Select(d => new MeasuredDimension(d.Name, d.SpecifiedIn))], Fit: true, FullHead: true, [Tools.Tape]));
        }
    }
}
