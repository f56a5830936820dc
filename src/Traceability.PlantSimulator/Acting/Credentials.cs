using System.Security.Cryptography;
using System.Text.Json;
using System.Text.Json.Serialization;
using Traceability.Core.People;
using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Acting;

public sealed record DeviceCredential(string Id, string Name, string Key, IReadOnlyList<string> Roles);

/// <summary>A person's secrets.</summary>
/// <param name="Pin">What the person chooses, and signs with from then on.</param>
/// <param name="Password">What the person chooses, too.</param>
/// <param name="FirstPassword">What the service reads at its first start; it signs nothing.</param>
public sealed record PersonCredential(
    string Id, string DisplayName, [property: JsonPropertyName("ownPin")] string Pin, [property: JsonPropertyName("ownPassword")] string Password,
    [property: JsonPropertyName("password")] string FirstPassword, IReadOnlyList<string> Roles);

/// <summary>
/// The devices and people of a run with their secrets: made for the run, read by the service at its first start, and by
/// the simulator to sign on. The file can be read by its owner alone.
/// </summary>
public sealed record Credentials(IReadOnlyList<DeviceCredential> Devices, IReadOnlyList<PersonCredential> People)
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web) { WriteIndented = true };

    /// <summary>New random secrets for every station and person of the invented plant.</summary>
    public static Credentials Generate() => new(
        [.. Plant.Stations.Select(s => new DeviceCredential(s.Device, s.Name, RandomNumberGenerator.GetHexString(48, lowercase: true), s.Roles))],
        [.. Plant.People.Select(p => new PersonCredential(p.Id, p.Duty, NewPin(), NewPassword(), NewPassword(), p.Roles))]);

    private static string NewPassword() => RandomNumberGenerator.GetString("abcdefghjkmnpqrstuvwxyz23456789", 16);

    private static string NewPin()
    {
        while (true)
        {
            if (RandomNumberGenerator.GetString("0123456789", Pins.Shortest) is var pin && Pins.Refusal(pin) is null) return pin;
        }
    }

    public static Credentials Load(string path)
    {
        using var file = File.OpenRead(path);
        return JsonSerializer.Deserialize<Credentials>(file, Json) ?? throw new InvalidDataException($"{path} holds no credentials");
    }

    public void Save(string path)
    {
        var options = new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows()) options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        using var file = new FileStream(path, options);
        JsonSerializer.Serialize(file, this, Json);
    }

    public DeviceCredential Device(string id) =>
        Devices.FirstOrDefault(d => d.Id == id) ?? throw new InvalidDataException($"no credentials for device '{id}'");

    public PersonCredential Person(string id) =>
        People.FirstOrDefault(p => p.Id == id) ?? throw new InvalidDataException($"no credentials for person '{id}'");
}
