using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Demo;
using Traceability.PlantSimulator.Verbs;

const string Usage = """
    plant-simulator acts the stations of an invented plant over the service's public interface.

      plant-simulator bootstrap --out FILE
          makes new random secrets for the plant's devices and people
      plant-simulator story --url URL --credentials FILE --journal FILE [--units N] [--seed N] [--mishaps LIST|All] [--key TEXT]
          acts a story, and returns when all of it is recorded
      plant-simulator demo --url URL --credentials FILE --database CONNECTION --journal FILE --out FOLDER --log-key FILE --verifier PROGRAM --witness FILE
          tells the demonstration's story with its decisions under the scenario clock, and holds the outcome against the expected one
      plant-simulator load --url URL --credentials FILE [--rate PER-SECOND] [--seconds N | --facts N] [--batch N] [--parallel N] [--key TEXT] [--journal FILE]
          sends facts at a rate, or as fast as they are taken, and reports as JSON
      plant-simulator check --database CONNECTION --journal FILE [--journal FILE ...]
          journal = records = events = links = leaves, by id and hash; exit code 1 when not
    """;

using var stopping = new CancellationTokenSource();
Console.CancelKeyPress += (_, e) =>
{
    e.Cancel = true;
    stopping.Cancel();
};
try
{
    if (args.Length == 0 || args[0] is "help" or "--help")
    {
        Console.WriteLine(Usage);
        return args.Length == 0 ? 2 : 0;
    }

    var options = new Options(args[1..]);
    switch (args[0])
    {
        case "bootstrap":
            var path = options.Text("--out");
            options.Done();
            Credentials.Generate().Save(path);
            return 0;
        case "story": return await StoryVerb.RunAsync(options, stopping.Token);
        case "demo": return await DemoVerb.RunAsync(options, stopping.Token);
        case "load": return await LoadVerb.RunAsync(options, stopping.Token);
        case "check": return await CheckVerb.RunAsync(options, stopping.Token);
        default: throw new UsageException($"'{args[0]}' is not a command");
    }
}
catch (UsageException e)
{
    Console.Error.WriteLine($"plant-simulator: {e.Message}\n\n{Usage}");
    return 2;
}
catch (RefusedException e)
{
    Console.Error.WriteLine($"plant-simulator: {e.Message}");
    return 1;
}
catch (OperationCanceledException) when (stopping.IsCancellationRequested)
{
    return 130;
}
