using DotNet.Testcontainers.Builders;
using DotNet.Testcontainers.Images;

namespace Traceability.Containers.Tests;

/// <summary>
/// The service's image, made from the folder that <c>ops/test --prepare containers</c> published, on the base image TRACE_BASE_IMAGE names
/// (any with OpenSSL): building it asks for no network.
/// </summary>
public static class ServiceImage
{
    /// <summary>The published service, with its own copy of the runtime.</summary>
    public static string Published { get; } = Path.Combine(TestServers.Servers.Root, ".data", "image");

    private static readonly Lazy<Task<string>> Image = new(async () =>
    {
        Assert.True(
            File.Exists(Path.Combine(Published, "Dockerfile")),
            $"{Published} holds no published service: run ops/test --prepare containers");

        var image = new ImageFromDockerfileBuilder()
            .WithDockerfileDirectory(Published)
            .WithName(new DockerImage("localhost/plant-traceability", tag: "test"))
            .WithBuildArgument("BASE_IMAGE", Environment.GetEnvironmentVariable("TRACE_BASE_IMAGE") ?? TestServers.Containers.PostgresImage)
            .Build();
        await image.CreateAsync();
        return image.FullName;
    });

    /// <summary>Builds the image once per run and gives its name.</summary>
    public static Task<string> NameAsync() => Image.Value;
}
