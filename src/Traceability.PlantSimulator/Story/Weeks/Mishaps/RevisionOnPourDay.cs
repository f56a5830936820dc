using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A new revision of the drawing is approved on the morning of the pour. The unit is tied anew, swapped and poured a day later.</summary>
internal sealed class RevisionOnPourDay(Scene scene) : UnitLife(scene, Frames.Frame, "RF-0006", scene.At(3, DayOfWeek.Thursday), 0), IChapter
{
    private const string Chapter = "A new drawing revision on the day of the pour", NewCage = "CG-RF-0006-C";

    /// <summary>The frame by the new revision: a vent hole more.</summary>
    public static readonly Product FrameC = Frames.Frame with { Embeds = [.. Frames.Frame.Embeds, new EmbedLine("vent hole", 2)] };

    public void Tell()
    {
        Revised();
        Live();
        var asked = base.PourAt.AddMinutes(-25);
        Release(HoldKind.Pour, asked, refused: true);
        Scene.Expect(new HoldExpected(Chapter, asked, Serial, HoldKind.Pour, HoldState.Held));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "pour.drawing-in-force", Verdict.Met, "revision C"));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Pour, HoldState.Released, Contradicted: false));
        // What was cast to revision B before it was replaced stays right.
        Scene.Expect(new FindingExpected(Chapter, null, "RF-0001", "pour.drawing-in-force", Verdict.Met, "revision B"));
    }

    protected override DateTimeOffset PourAt => base.PourAt.AddDays(1);

    private void Revised()
    {
        Scene.Office(PourDay.AddDays(-3).AddHours(9), new DrawingRevised(Frames.Frame.Drawing, "C", Scene.Date(PourDay.AddDays(-3)), "Two vent holes in the slab."));
        var approved = PourDay.AddHours(7.1);
        Scene.Office(approved, FrameC.Approval("C", Scene.Date(PourDay), "Invented approval stamp SD-310-C"));
        Scene.Office(approved.AddMinutes(2), new DrawingSuperseded(Frames.Frame.Drawing, "B", approved, "The department asks for vent holes.", "C"));
    }

    // After the morning's work to the old revision: scheduled, tied, swapped and inspected again to the new one.
    protected override void AgencyComes()
    {
        Scene.Office(PourDay.AddHours(12), new UnitScheduled(Serial, Product.Mark, Product.Drawing, "C", Product.Mix.Id, Form, Scene.Date(PourDay.AddDays(1)), Product.Contract!.Id));
        Scene.Send(Plant.CageShop, Plant.CageForeman, PourDay.AddHours(14), Tied(NewCage, "C", PourDay.AddHours(14)));
        Scene.Send(Plant.FormHall, Plant.FormForeman, PourDay.AddHours(15.5), new FormRebuilt(Form, "span 24, rise 8, vented", "Two vent formers fixed to the slab form."));
        Scene.Send(Plant.CageShop, Plant.CageForeman, PourDay.AddHours(16), new CageSwapped(Serial, Cage, NewCage, "Tied to revision C."));
        var next = Morning.AddDays(1);
        Inspect(next, new FormInspected(Form, "span 24, rise 8, vented", [.. Product.Dimensions.Select(d => new MeasuredDimension(d.Name, d.SpecifiedIn))], Fit: true, FullHead: true, [Tools.Tape]));
        Inspect(next.AddMinutes(80), Steel(NewCage));
        Scene.Send(Plant.FormHall, Plant.FormForeman, next.AddMinutes(110), new FormClosed(Serial, Form, "span 24, rise 8, vented"));
        var form = ClosedForm();
        Inspect(next.AddMinutes(170), form with { Embeds = [.. form.Embeds, new EmbedFound("vent hole", 2, true)] });
        AgencyActs(next.AddMinutes(190), new AgencyPresent([Serial], HoldKind.Pour));
    }
}

/// <summary>A frame cast to the new revision in which nothing goes wrong.</summary>
internal class FrameOfRevisionC(Scene scene, string serial, DateTimeOffset day) : UnitLife(scene, RevisionOnPourDay.FrameC, serial, day, 0)
{
    protected override string Revision => "C";
}
