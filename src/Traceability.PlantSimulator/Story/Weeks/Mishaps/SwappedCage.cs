using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The crew sets the cage of another wall into the form. The inspector reads its tag; the cages are exchanged and looked at again.</summary>
internal sealed class SwappedCage(Scene scene) : UnitLife(scene, Frames.WingWall, "WW-0004", scene.At(3, DayOfWeek.Wednesday), 1), IChapter
{
    private const string Chapter = "A swapped cage";

    private readonly OtherWall _other = new(scene);

    public void Tell()
    {
        _other.Live();
        Live();
        var seen = Morning.AddMinutes(90);
        Scene.Expect(new FindingExpected(Chapter, seen, Serial, "close-up.cage-of-this-unit", Verdict.NotMet, _other.OwnCage));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "close-up.cage-of-this-unit", Verdict.Met, Cage));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
        Scene.Expect(new RecallExpected(Chapter, null, "cage:" + _other.OwnCage, [_other.Serial], []));
    }

    protected override void SetCage()
    {
        Scene.Send(Plant.FormHall, Plant.FormForeman, Morning, new FormOiled(Form, Serial, "Water-based release agent"));
        Scene.Send(Plant.FormHall, Plant.FormForeman, Morning.AddMinutes(25), new CageSet(Serial, _other.OwnCage, Form));
        Scene.Send(Plant.FormHall, Plant.FormForeman, Morning.AddMinutes(45), new InsertsFixed(Serial, Form, [.. Product.Embeds.Select(e => new FixedItem(e.Item, e.Count))]));
    }

    protected override void CloseUp()
    {
        Inspect(Morning.AddMinutes(60), Steel(_other.OwnCage));
        Scene.Send(Plant.CageShop, Plant.CageForeman, Morning.AddMinutes(95), new CageSwapped(Serial, _other.OwnCage, Cage, "Cage of another wall was set; its tag was read at the inspection."));
        Inspect(Morning.AddMinutes(115), Steel(Cage));
        Scene.Send(Plant.FormHall, Plant.FormForeman, Morning.AddMinutes(130), new FormClosed(Serial, Form, Product.SetUp));
    }

    /// <summary>The wall whose cage it was; poured five days later.</summary>
    private sealed class OtherWall(Scene scene) : UnitLife(scene, Frames.WingWall, "WW-0005", scene.At(4, DayOfWeek.Monday), 1)
    {
        public string OwnCage => Cage;

        protected override DateTimeOffset TiedAt => Scene.At(3, DayOfWeek.Tuesday, 14);
    }
}
