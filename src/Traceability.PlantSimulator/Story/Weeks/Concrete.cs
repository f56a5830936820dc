using Traceability.Core.Events;
using Traceability.Core.Records;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>Batches, samples and cylinders of one pour.</summary>
internal sealed class Concrete(Scene scene, Mix mix, string about)
{
    private const decimal SandAbsorption = 1.2m, StoneAbsorption = 0.6m;

    private readonly Readings _readings = scene.ReadingsOf(about + " concrete");

    /// <param name="charged">First contact of water and cement.</param>
    /// <param name="yards">Cubic yards.</param>
    /// <param name="sandMoisturePct">Total moisture of the sand by the probe; null for a usual one.</param>
    /// <param name="sandBin">The bin the sand is drawn from.</param>
    public BatchTicketed Ticket(DateTimeOffset charged, string yards, decimal? sandMoisturePct = null, string sandBin = Stores.SandBin)
    {
        var yd3 = R(yards).Value;
        decimal sandMoisture = sandMoisturePct ?? decimal.Round(_readings.Between(4.6m, 5.6m), 1), stoneMoisture = decimal.Round(_readings.Between(0.8m, 1.4m), 1);
        var sandDry = mix.Sand / (1 + SandAbsorption / 100);
        var stoneDry = mix.Stone / (1 + StoneAbsorption / 100);
        var free = sandDry * (sandMoisture - SandAbsorption) / 100 + stoneDry * (stoneMoisture - StoneAbsorption) / 100;
        var water = decimal.Round((mix.Water - free) * yd3, 1);
        Weighed Weigh(Material material, string name, decimal target, decimal withinPct, int digits, string storage, string? capacity = null, decimal? moisture = null, decimal? absorption = null) =>
            new(material, name, R(target, digits), R(target * (1 + _readings.Between(-withinPct, withinPct) / 100), digits), capacity is null ? null : R(capacity),
                moisture is null ? null : R(moisture.Value, 1), absorption is null ? null : R(absorption.Value, 1), null, storage);
        return new BatchTicketed(scene.Ticket(charged), mix.Id, R(yards),
            [
                Weigh(Material.Cement, "cement Type III", mix.Cement * yd3, 0.6m, 0, Stores.CementSilo, "3000"),
                Weigh(Material.SupplementaryCementitious, "slag cement", mix.Slag * yd3, 0.6m, 0, Stores.SlagSilo, "700"),
                Weigh(Material.FineAggregate, "sand", decimal.Round(sandDry * (1 + sandMoisture / 100) * yd3), 0.8m, 0, sandBin, "10000", sandMoisture, SandAbsorption),
                Weigh(Material.CoarseAggregate, "stone 1/2 in", decimal.Round(stoneDry * (1 + stoneMoisture / 100) * yd3), 0.8m, 0, Stores.StoneBin, "10000", stoneMoisture, StoneAbsorption),
                Weigh(Material.Admixture, "high-range water reducer", mix.Reducer * yd3, 1.0m, 1, Stores.ReducerTank),
                Weigh(Material.Admixture, "air-entraining admixture", mix.AirAgent * yd3, 1.0m, 2, Stores.AirTank),
            ],
            R(water, 1), R(water * (1 + _readings.Between(-0.7m, 0.7m) / 100), 1), charged, MoistureBasis.Probe,
            Instruments: [Tools.Scale, Tools.WaterMeter], ChargingOrder: ["stone 1/2 in", "sand", "cement Type III", "slag cement", "high-range water reducer", "air-entraining admixture"],
            WaterStorage: Stores.WaterTank);
    }

    public CloudEvent Send(BatchTicketed ticket) => scene.Send(Plant.BatchHouse, Plant.BatchOperator, ticket.ChargedAt.AddMinutes(4), ticket);

    public void Accept(BatchId batch, DateTimeOffset at, string? remarks = null) =>
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, at, new LoadAccepted(batch, remarks));

    /// <summary>A sample with its fresh tests inside the limits; cylinders for strip, ship, acceptance and one spare.</summary>
    public SampleTested Fresh(string sample, BatchId batch, DateTimeOffset at, string? samplingLot = null) => new(
        sample, batch, at, R(_readings.Between(68, 76), 0), Cylinders(), at.AddMinutes(8), [Tools.AirMeter, Tools.Thermometer, Tools.DensityMeasure],
        FlowIn: mix.Flow is null ? null : [R(_readings.OneOf("25 1/2", "26", "26 1/2")), R(_readings.OneOf("25 1/2", "26", "26 1/2"))],
        StabilityIndex: mix.Flow is null ? null : _readings.OneOf(0, 1),
        AirGaugePct: mix.DryCast ? null : R(_readings.Between(6.1m, 6.7m), 1), AggregateCorrectionPct: mix.DryCast ? null : R("0.4"),
        DensityLbFt3: R(_readings.Between(141.4m, 143.2m), 1), SlumpIn: mix.Slump is null ? null : R(_readings.OneOf("4 3/4", "5", "5 1/4")),
        FirstPortionAt: at, LastPortionAt: at.AddMinutes(2), TestsStartedAt: at.AddMinutes(3), SamplingLot: samplingLot);

    private static List<CylinderCast> Cylinders()
    {
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
        return cylinders;
    }

    /// <summary>From the moulds into the curing room the next morning.</summary>
    public void IntoCuring(SampleTested sample, DateTimeOffset at)
    {
        string[] standard = [.. sample.Cylinders.Where(c => c.Curing == CuringPlace.Standard).Select(c => c.Cylinder)];
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, at, new InitialCureRecorded(sample.Sample, standard, sample.MouldedAt.AddMinutes(20), at.AddMinutes(-2), R("66"), R(_readings.Between(71, 76), 0), true, [Tools.CureThermometer]));
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, at.AddMinutes(6), new CylindersDemoulded(sample.Sample, standard));
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, at.AddMinutes(12), new CylindersIntoCuring(sample.Sample, standard, CuringPlace.Standard, "lime water tank 1", R("73")));
    }

    public void Break(string sample, string cylinder, DateTimeOffset at, decimal lowPsi, decimal highPsi, string machine = Tools.Machine)
    {
        decimal first = decimal.Round(_readings.Between(3.99m, 4.02m), 2), second = decimal.Round(_readings.Between(3.99m, 4.02m), 2);
        var diameter = (first + second) / 2;
        var load = decimal.Round(_readings.Between(lowPsi, highPsi) * 3.14159m / 4 * diameter * diameter / 10) * 10;
        scene.Send(Plant.Laboratory, Plant.StrengthTechnician, at, new CylinderBroken(
            sample, cylinder, R(first, 2), R(second, 2), R(_readings.Between(7.95m, 8.05m), 2), R(load, 0), _readings.OneOf(2, 3, 3, 5), "unbonded caps", machine));
    }
}
